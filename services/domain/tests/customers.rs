//! Customers and what is theirs, as a story.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, at, code, open_job};
use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_facts::rows::{CustomerRow, VehicleRow};
use leadhand_facts::words::Role;
use leadhand_facts::*;
use stock_kit::texts::texts_of_customer;
use uuid::Uuid;

fn lead() -> Floor {
    let mut floor = Floor::open();
    let flint = floor.flint;
    floor.acts(Some(flint), Role::Lead);
    floor.shop.now = at("09:00");
    floor
}

fn add(floor: &mut Floor, name: &str) -> CustomerId {
    let (contact, note) = (Some("at the mill".to_owned()), Some("rings twice".to_owned()));
    let made = floor.now(AddCustomer { name: name.into(), contact, note }).unwrap().made;
    let Made::Customer(customer) = made else { panic!("{made:?}") };
    customer
}

fn vehicle(floor: &Floor) -> &VehicleRow {
    floor.shop.state.vehicles.iter().next().unwrap()
}

fn row(floor: &Floor, customer: CustomerId) -> CustomerRow {
    floor.shop.state.customers.get(&(customer,)).unwrap().clone()
}

fn describe(floor: &Floor) -> EditVehicle {
    EditVehicle {
        vehicle: vehicle(floor).vehicle,
        label: None,
        plate: Change::Keep,
        weight_kg: Change::Keep,
        customer: Change::Keep,
        earlier_jobs: false,
    }
}

fn whose(floor: &Floor, job: i64) -> Option<CustomerId> {
    floor.shop.state.jobs.get(&(JobNo(job),)).unwrap().customer
}

fn is_erased(floor: &Floor, text: TextId) -> bool {
    floor.shop.state.texts.get(&(text,)).unwrap().erased_n.is_some()
}

fn forget(floor: &Floor, customer: CustomerId) -> ForgetCustomer {
    let texts = texts_of_customer(&floor.shop.books, &floor.shop.journal, customer).into_iter().collect();
    ForgetCustomer { customer, texts }
}

fn cancel(job: i64) -> CancelJob {
    CancelJob { job: JobNo(job), reason: "Heather changed plans".into(), as_it_is: false }
}

/// The same vehicle comes again.
fn again(floor: &Floor) -> OpenJob {
    OpenJob {
        vehicle: WhichVehicle::Known(vehicle(floor).vehicle),
        title: Some("Heather's rattle".into()),
        ..open_job()
    }
}

#[test]
fn what_is_said_anew_erases_what_was_said_before() {
    let mut floor = lead();
    let heather = add(&mut floor, "Heather");
    let was = row(&floor, heather);
    let edit = |contact, note| EditCustomer { customer: heather, name: None, contact, note };
    assert_eq!(code(floor.now(edit(Change::Keep, Change::Keep))), "NOTHING_TO_DO");
    assert_eq!(code(floor.now(edit(Change::Set(" ".into()), Change::Keep))), "INVALID_FIELD");
    floor.now(edit(Change::Set("at the ford".into()), Change::Clear)).unwrap();
    let now = row(&floor, heather);
    assert_eq!((now.name, now.about), (was.name, None));
    assert_ne!(now.contact, was.contact);
    assert!(is_erased(&floor, was.contact.unwrap()) && is_erased(&floor, was.about.unwrap()));
    assert!(!is_erased(&floor, now.name) && !is_erased(&floor, now.contact.unwrap()));
    floor.now(EditCustomer { name: Some("Heather Reed".into()), ..edit(Change::Keep, Change::Keep) }).unwrap();
    assert!(is_erased(&floor, now.name) && !is_erased(&floor, row(&floor, heather).name));
    let car = vehicle(&floor).clone();
    floor.now(EditVehicle { label: Some("blue van".into()), ..describe(&floor) }).unwrap();
    assert!(is_erased(&floor, car.label) && !is_erased(&floor, vehicle(&floor).label));
    let nobody = EditCustomer { customer: CustomerId(Uuid::from_u128(6)), ..edit(Change::Clear, Change::Keep) };
    assert_eq!(code(floor.now(nobody)), "NOT_FOUND");
}

#[test]
fn a_job_is_whose_its_vehicle_is_and_stays_so_when_the_vehicle_is_sold() {
    let mut floor = lead();
    let (heather, sorrel) = (add(&mut floor, "Heather"), add(&mut floor, "Sorrel"));
    let to = |floor: &Floor, customer, earlier_jobs| EditVehicle {
        customer: Change::Set(customer),
        earlier_jobs,
        ..describe(floor)
    };
    assert_eq!(code(floor.now(describe(&floor))), "NOTHING_TO_DO");
    assert_eq!(code(floor.now(EditVehicle { earlier_jobs: true, ..describe(&floor) })), "INVALID_FIELD");
    floor.now(to(&floor, heather, false)).unwrap();
    assert_eq!(whose(&floor, 1), Some(heather), "the open job goes along");
    floor.now(cancel(1)).unwrap();
    floor.shop.now = at("10:00");
    floor.now(again(&floor)).unwrap();
    assert_eq!(whose(&floor, 2), Some(heather));
    floor.now(to(&floor, sorrel, false)).unwrap();
    assert_eq!((whose(&floor, 1), whose(&floor, 2)), (Some(heather), Some(sorrel)), "what was closed stays");
    // It never was Sorrel's, nor Heather's before.
    floor.now(to(&floor, heather, true)).unwrap();
    assert_eq!((whose(&floor, 1), whose(&floor, 2)), (Some(heather), Some(heather)));
    floor.now(to(&floor, sorrel, true)).unwrap();
    assert_eq!((whose(&floor, 1), whose(&floor, 2)), (Some(sorrel), Some(sorrel)));
}

#[test]
fn a_closed_job_that_was_nobodys_goes_to_who_is_named_first() {
    let mut floor = lead();
    floor.now(cancel(1)).unwrap();
    let heather = add(&mut floor, "Heather");
    floor.now(EditVehicle { customer: Change::Set(heather), ..describe(&floor) }).unwrap();
    assert_eq!(whose(&floor, 1), Some(heather));
}

#[test]
fn a_new_vehicle_comes_with_plate_and_customer() {
    let mut floor = lead();
    let heather = add(&mut floor, "Heather");
    let new = |customer| OpenJob {
        vehicle: WhichVehicle::New {
            label: "hatch".into(),
            weight_kg: None,
            plate: Some("ZZ 1".into()),
            customer: Some(customer),
        },
        ..open_job()
    };
    assert_eq!(code(floor.now(new(CustomerId(Uuid::from_u128(6))))), "NOT_FOUND");
    floor.now(new(heather)).unwrap();
    assert_eq!(whose(&floor, 2), Some(heather));
    let own: Vec<&VehicleRow> = floor.shop.state.vehicles.iter().filter(|row| row.customer == Some(heather)).collect();
    assert!(matches!(own[..], [VehicleRow { plate: Some(_), .. }]), "{own:?}");
}

#[test]
fn a_vehicle_in_a_bay_does_not_weigh_more_than_the_bay_bears() {
    let mut floor = lead();
    let weigh = |floor: &Floor, weight_kg| EditVehicle { weight_kg: Change::Set(weight_kg), ..describe(floor) };
    assert_eq!(code(floor.now(weigh(&floor, 2001))), "TOO_HEAVY", "lift-1 is rated for 2000 kg");
    assert_eq!(code(floor.now(weigh(&floor, 0))), "INVALID_FIELD");
    floor.now(weigh(&floor, 2000)).unwrap();
    assert_eq!(vehicle(&floor).weight_kg, Some(2000));
}

#[test]
fn who_is_forgotten_leaves_figures_and_no_words() {
    let mut floor = lead();
    let heather = add(&mut floor, "Heather");
    let plate = Change::Set("ZZ 1".to_owned());
    floor.now(EditVehicle { customer: Change::Set(heather), plate, ..describe(&floor) }).unwrap();
    let refused = floor.now(forget(&floor, heather)).unwrap_err();
    assert_eq!(refused.reason(), "CUSTOMER_HAS_OPEN_JOB");
    assert!(refused.to_string().contains("job(s) 1 "), "{refused}");
    floor.now(cancel(1)).unwrap();
    let (was, car) = (row(&floor, heather), vehicle(&floor).clone());
    let reason = floor.shop.state.jobs.get(&(JOB,)).unwrap().reason.unwrap();
    // Even if nothing was looked up, the names go.
    floor.now(ForgetCustomer { customer: heather, texts: vec![reason] }).unwrap();
    let words = [Some(was.name), was.contact, was.about, Some(car.label), car.plate, Some(reason)];
    assert!(words.into_iter().flatten().all(|text| is_erased(&floor, text)));
    assert_eq!((vehicle(&floor).customer, vehicle(&floor).weight_kg), (None, car.weight_kg));
    assert_eq!(whose(&floor, 1), Some(heather), "the random id stays, so that figures stay together");
    assert_eq!(code(floor.now(forget(&floor, heather))), "CUSTOMER_FORGOTTEN");
    assert_eq!(
        code(floor.now(EditVehicle { customer: Change::Set(heather), ..describe(&floor) })),
        "CUSTOMER_FORGOTTEN"
    );
    // The vehicle comes again, with words of its own.
    floor.now(again(&floor)).unwrap();
    assert_eq!(whose(&floor, 2), None);
    floor.now(EditVehicle { label: Some("van".into()), ..describe(&floor) }).unwrap();
    assert!(!is_erased(&floor, vehicle(&floor).label));
}

#[test]
fn words_of_another_customer_on_the_same_vehicle_stay() {
    let mut floor = lead();
    let (heather, sorrel) = (add(&mut floor, "Heather"), add(&mut floor, "Sorrel"));
    floor.now(EditVehicle { customer: Change::Set(heather), ..describe(&floor) }).unwrap();
    floor.now(cancel(1)).unwrap();
    floor.now(EditVehicle { customer: Change::Set(sorrel), ..describe(&floor) }).unwrap();
    floor.shop.now = at("10:00");
    floor.now(again(&floor)).unwrap();
    floor.now(forget(&floor, heather)).unwrap();
    let title = floor.shop.state.jobs.get(&(JobNo(2),)).unwrap().title_text.unwrap();
    assert!(!is_erased(&floor, title) && !is_erased(&floor, vehicle(&floor).label));
    assert!(!is_erased(&floor, row(&floor, sorrel).name));
}
