//! A shop as it is on a usual day, and every page of it.

use crate::chrome::Size;
use crate::hand::Hand;
use crate::scene::Scene;
use leadhand_sdk::v1::{self, Role};
use leadhand_sdk::{WriteContextExt, new_write};

const COOLANT: &str = include_str!("../../deploy/demo-shop/templates/coolant-service.toml");
const GASKET: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");
const CHECK: &str = include_str!("../../deploy/demo-shop/templates/engine-check.toml");
const LEAD_PIN: &str = "6194027";

/// The shop, with its lead signed in at a browser.
pub struct Shop {
    _scene: Scene,
    pub hand: Hand,
    /// A job whose strip has begun, and one that is being measured.
    pub strip: i64,
    pub check: i64,
    pub lead: String,
}

impl Shop {
    /// Nothing where there is no browser.
    pub async fn open(size: Size) -> Option<Self> {
        let scene = Scene::open(Role::Technician).await;
        let hand = Hand::at(scene.screen, size).await?;
        scene.publish(&[COOLANT, GASKET, CHECK]).await;
        let lead = scene.person_as("Heron", LEAD_PIN, Role::Lead, &["engine", "service"]).await;
        let strip = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 90).await;
        let check = scene.job_from("engine-check", "green estate", "lift-2", 60).await;
        scene.held_up_at(check, "look", "waits for the long extension").await;
        open_outside(&scene).await;
        let reserve = v1::ReserveStockRequest { write: Some(new_write()), job: strip, ..Default::default() };
        scene.lead.reserve_stock(reserve).await.unwrap();
        hand.sign_in(&lead, LEAD_PIN, "/bay/lift-1").await;
        hand.go_words("Start").await;
        hand.go_words("Bonnet open").await;
        let (fluid, drained_ml) = ("coolant".to_owned(), 1_500);
        let write = Some(WriteContextExt::for_person(new_write(), "Heron"));
        let asked = v1::RecordFluidRequest { write, job: strip, fluid, drained_ml, ..Default::default() };
        scene.lead.record_fluid(asked).await.unwrap();
        Some(Self { _scene: scene, hand, strip, check, lead })
    }

    /// Pages that a hand is at.
    pub fn of_hands(&self) -> Vec<(&'static str, String)> {
        let (strip, check, lead) = (self.strip, self.check, &self.lead);
        vec![
            ("bay", "/bay/lift-1".to_owned()),
            ("bay-held-up", "/bay/lift-2".to_owned()),
            ("bay-free", "/bay/floor-1".to_owned()),
            ("part", format!("/bay/lift-1/job/{strip}/part/manifold-nuts")),
            ("reading", format!("/bay/lift-2/job/{check}/reading/compression")),
            ("look", format!("/bay/lift-1/job/{strip}/look/strip:2")),
            ("fill", format!("/bay/lift-1/job/{strip}/fill/coolant")),
            (
                "fill-worked",
                format!("/bay/lift-1/job/{strip}/fill/coolant?item=coolant-concentrate&target=50+%25&left=40+%25"),
            ),
            ("met", format!("/bay/lift-1/job/{strip}/met/strip")),
            ("desk", "/desk".to_owned()),
            ("desk-new", "/desk/new".to_owned()),
            ("desk-new-job", "/desk/new?template=coolant-service".to_owned()),
            ("parts", "/parts".to_owned()),
            ("parts-item", "/parts?item=intake-gasket-20".to_owned()),
            ("time", "/time".to_owned()),
            ("time-job", format!("/time?job={strip}")),
            ("time-template", "/time?template=inlet-gasket".to_owned()),
            ("hand-over", format!("/desk/job/{check}/hand-over")),
            // The lead is on the clock at lift-1.
            ("going", "/sign-out?to=/bay/lift-1".to_owned()),
            ("sign-in", "/sign-in".to_owned()),
            ("sign-in-pin", format!("/sign-in?person={lead}")),
            ("nothing", "/nowhere".to_owned()),
        ]
    }

    /// Every page.
    pub fn all(&self) -> Vec<(&'static str, String)> {
        let mut all = self.of_hands();
        all.insert(0, ("wall", "/".to_owned()));
        all
    }
}

/// Who works in a full shop; names are as long as names are.
const HANDS: [&str; 12] = [
    "Flint",
    "Larch",
    "Wrenfield",
    "Hazelthorne",
    "Moss",
    "Bramblewood",
    "Fern",
    "Quill",
    "Sedgewick",
    "Tarn",
    "Alder",
    "Marlowe-Finch",
];

/// Who helps them.
const HELPS: [&str; 6] = ["Rowan", "Thornberry", "Heath", "Ashgrove", "Reed", "Winterbourne"];

/// A shop in which every one of 24 bays is taken, some held up, with more outside.
pub async fn fill(scene: &Scene) {
    fill_bays(scene, 24).await;
}

/// The same with so many bays.
pub async fn fill_bays(scene: &Scene, count: usize) {
    const VEHICLES: [&str; 6] =
        ["green estate", "blue saloon 2.0", "white panel van, long", "grey hatchback", "red pick-up", "silver coupe"];
    let mut bays: Vec<String> = ["lift-1", "lift-2", "floor-1"].map(str::to_owned).into();
    for bay in 4..=count {
        let kind = v1::BayKind::Floor.into();
        let bay = v1::Bay { bay: format!("bay-{bay}"), name: format!("Bay {bay}"), kind, rated_kg: 5000 };
        bays.push(bay.bay.clone());
        scene.lead.add_bay(v1::AddBayRequest { write: Some(new_write()), bay: Some(bay) }).await.unwrap();
    }
    for name in HANDS.into_iter().chain(HELPS) {
        let asked = v1::AddPersonRequest { write: Some(new_write()), name: name.into(), skills: Vec::new() };
        scene.lead.add_person(asked).await.unwrap();
    }
    for (at, bay) in bays.iter().enumerate() {
        let job = scene.job_of(VEHICLES[at % VEHICLES.len()], bay, 12, "Renew the front wheel bearings").await;
        // Where nothing holds it up, somebody works on it in most bays.
        if let Some(hand) = HANDS.get(at / 2).filter(|_| at % 4 != 0 && at % 2 == 1) {
            let write = Some(WriteContextExt::for_person(new_write(), *hand));
            let asked = v1::StartStageRequest { write, job, stage: "mend".into(), ..Default::default() };
            scene.lead.start_stage(asked).await.unwrap();
            // On some of them two.
            if let Some(other) = HELPS.get(at / 4).filter(|_| at % 4 == 1) {
                let write = Some(WriteContextExt::for_person(new_write(), *other));
                let asked = v1::ClockOnRequest { write, job, stage: "mend".into(), ..Default::default() };
                scene.lead.clock_on(asked).await.unwrap();
            }
        }
        let urgency = v1::PromiseJobRequest {
            write: Some(new_write()),
            job,
            priority: i32::try_from(at % 5).unwrap() + 1,
            ..Default::default()
        };
        scene.lead.promise_job(urgency).await.unwrap();
        if at % 4 == 0 {
            scene.held_up_at(job, "mend", "the long extension is at another bay").await;
        }
    }
    for _ in 0..4 {
        open_outside(scene).await;
    }
}

async fn open_outside(scene: &Scene) {
    for vehicle in ["blue saloon", "white van"] {
        let (template, vehicle_label) = ("coolant-service".to_owned(), vehicle.to_owned());
        let asked = v1::OpenJobRequest { write: Some(new_write()), template, vehicle_label, ..Default::default() };
        let job = scene.lead.open_job(asked).await.unwrap().job;
        let reserve = v1::ReserveStockRequest { write: Some(new_write()), job, ..Default::default() };
        scene.lead.reserve_stock(reserve).await.unwrap();
    }
}
