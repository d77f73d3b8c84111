//! Facts about the shop, its bays, persons, tokens, templates and vehicles.

use crate::kit::{Journal, PERSON, VEHICLE, all, id, minute, one, refused, text};
use leadhand_facts::rows::{BayRow, PersonRow, PlaceRow, ShopRow, TemplateRow, TextRow, TokenRow, VehicleRow};
use leadhand_facts::template::Template;
use leadhand_facts::words::{BayKind, PlaceKind, Role};
use leadhand_facts::{Fact, PersonId, PrincipalId, TextRef, TokenId};

#[test]
fn opening_makes_the_shop_and_its_contra_places() {
    let books = Journal::opened().books();
    let shop = ShopRow {
        name: text(1).id,
        zone: "Europe/Paris".to_owned(),
        calendar_revision: 0,
        last_job: 0,
        opened_at: minute(0),
        opened_n: 1,
        places_outside: 4,
        moving_minutes: 10,
    };
    assert_eq!(all::<ShopRow>(&books), [shop]);
    let contra = |kind: PlaceKind| PlaceRow {
        place: kind.word().into(),
        kind,
        name: kind.word().to_owned(),
        job: None,
        added_n: 1,
    };
    let by_key = [PlaceKind::Count, PlaceKind::Scrap, PlaceKind::Supplier, PlaceKind::Used, PlaceKind::Waste];
    assert_eq!(all::<PlaceRow>(&books), by_key.map(contra));
    assert_eq!(all::<TextRow>(&books), [TextRow { text: text(1).id, hash: text(1).hash, erased_n: None }]);
}

#[test]
fn bays_vehicles_and_persons_are_added() {
    let books = Journal::working().books();
    let kind = BayKind::TwoPostLift;
    let bay = BayRow { bay: "b1".into(), name: "Bay 1".to_owned(), kind, rated_kg: 3_500, added_n: 2 };
    assert_eq!(all::<BayRow>(&books), [bay]);
    let skills = vec!["engine".to_owned()];
    let person = PersonRow { person: PERSON, name: text(2).id, skills, forgotten: false, added_n: 3 };
    assert_eq!(one::<PersonRow>(&books, &(PERSON,)), person);
    let (label, plate, weight_kg, customer) = (text(4).id, None, Some(1_400), None);
    let vehicle = VehicleRow { vehicle: VEHICLE, label, plate, weight_kg, customer, added_n: 5 };
    assert_eq!(all::<VehicleRow>(&books), [vehicle]);
}

#[test]
fn a_yard_is_what_was_said_last() {
    let mut journal = Journal::working();
    journal.at(1, Fact::YardSet { places_outside: 0, moving_minutes: 15 });
    journal.at(2, Fact::YardSet { places_outside: 2, moving_minutes: 5 });
    let shop = one::<ShopRow>(&journal.books(), &());
    assert_eq!((shop.places_outside, shop.moving_minutes), (2, 5));
    for (places_outside, moving_minutes) in [(-1, 5), (1_001, 5), (2, -1), (2, 1_441)] {
        refused(Journal::working, 1, Fact::YardSet { places_outside, moving_minutes }, "shop", "is no yard");
    }
}

#[test]
fn skills_are_replaced_and_forgetting_keeps_them() {
    let mut journal = Journal::working();
    journal.at(1, Fact::SkillsSet { person: PERSON, skills: vec!["brakes".to_owned()] });
    let n = journal.at(2, Fact::PersonForgotten { person: PERSON, texts: vec![text(2).id] });
    let books = journal.books();
    let skills = vec!["brakes".to_owned()];
    let person = PersonRow { person: PERSON, name: text(2).id, skills, forgotten: true, added_n: 3 };
    assert_eq!(one::<PersonRow>(&books, &(PERSON,)), person);
    assert_eq!(one::<TextRow>(&books, &(text(2).id,)).erased_n, Some(n));
    assert_eq!(one::<TextRow>(&books, &(text(3).id,)).erased_n, None);

    let forget = |texts: Vec<TextRef>| Fact::PersonForgotten {
        person: PERSON,
        texts: texts.into_iter().map(|text| text.id).collect(),
    };
    refused(Journal::working, 1, forget(vec![text(99)]), "text_ref", "unknown");
    refused(Journal::working, 1, forget(vec![text(2), text(2)]), "text_ref", "erased before");
    let forgotten = || {
        let mut journal = Journal::working();
        journal.at(1, forget(vec![text(2)]));
        journal
    };
    refused(forgotten, 2, forget(Vec::new()), "person", "forgotten before");
    let mut again = forgotten();
    let n = again.at(2, forget(vec![text(3)]));
    assert_eq!(one::<TextRow>(&again.books(), &(text(3).id,)).erased_n, Some(n), "words that were left over");
}

#[test]
fn a_name_is_replaced_and_the_one_before_erased() {
    let rename = |erased: &[u128]| {
        let erased = erased.iter().map(|number| text(*number).id).collect();
        Fact::PersonRenamed { person: PERSON, name: text(30), erased, reason: text(31) }
    };
    let mut journal = Journal::working();
    let n = journal.at(1, rename(&[2]));
    let books = journal.books();
    assert_eq!(one::<PersonRow>(&books, &(PERSON,)).name, text(30).id);
    assert_eq!(one::<TextRow>(&books, &(text(2).id,)).erased_n, Some(n));
    for erased in [&[][..], &[3], &[2, 3]] {
        refused(Journal::working, 1, rename(erased), "text_ref", "to be erased alone");
    }
    let forgotten = || {
        let mut journal = Journal::working();
        journal.at(1, Fact::PersonForgotten { person: PERSON, texts: vec![text(2).id] });
        journal
    };
    refused(forgotten, 2, rename(&[2]), "person", "forgotten before");
}

#[test]
fn a_bay_is_what_was_said_last() {
    let correct = |bay: &str| {
        let (bay, bay_kind, reason) = (bay.into(), BayKind::Pit, text(32));
        Fact::BayCorrected { bay, bay_kind, rated_kg: 900, reason }
    };
    let mut journal = Journal::working();
    journal.at(1, correct("b1"));
    let row = one::<BayRow>(&journal.books(), &("b1".into(),));
    assert_eq!((row.kind, row.rated_kg, row.added_n), (BayKind::Pit, 900, 2));
    refused(Journal::working, 1, correct("b2"), "bay", "unknown");
}

fn token(person: Option<PersonId>) -> Fact {
    Fact::TokenIssued {
        token: TokenId(id(0x41)),
        principal: PrincipalId(id(0x42)),
        person,
        label: Some(text(6)),
        role: Role::Lead,
        prefix: "lh_ab12".to_owned(),
        hash: "cd".repeat(32),
        expires_at: Some(minute(1_000)),
    }
}

#[test]
fn tokens_are_issued_and_revoked_when_it_was_recorded() {
    let mut journal = Journal::working();
    let issued_n = journal.late(1, 3, token(Some(PERSON)));
    let mut row = TokenRow {
        token: TokenId(id(0x41)),
        principal: PrincipalId(id(0x42)),
        person: Some(PERSON),
        label: Some(text(6).id),
        role: Role::Lead,
        prefix: "lh_ab12".to_owned(),
        hash: "cd".repeat(32),
        issued_at: minute(3),
        expires_at: Some(minute(1_000)),
        revoked_at: None,
        issued_n,
    };
    assert_eq!(all::<TokenRow>(&journal.books()), [row.clone()]);
    journal.late(4, 5, Fact::TokenRevoked { token: row.token });
    row.revoked_at = Some(minute(5));
    assert_eq!(all::<TokenRow>(&journal.books()), [row.clone()]);

    refused(Journal::working, 1, token(Some(PersonId(id(0x99)))), "person", "unknown");
    refused(Journal::working, 1, Fact::TokenRevoked { token: row.token }, "token", "unknown");
    let revoked = || {
        let mut journal = Journal::working();
        journal.at(1, token(None));
        journal.at(2, Fact::TokenRevoked { token: row.token });
        journal
    };
    refused(revoked, 3, Fact::TokenRevoked { token: row.token }, "token", "revoked before");
}

#[test]
fn a_published_revision_is_kept_whole_and_revisions_rise() {
    let doc = Template {
        key: "head-gasket".into(),
        title: "Head gasket".to_owned(),
        options: Vec::new(),
        stages: Vec::new(),
        ladders: Vec::new(),
    };
    let publish = |revision| Fact::TemplatePublished { revision, template: doc.clone() };
    let first = || {
        let mut journal = Journal::opened();
        journal.late(1, 2, publish(1));
        journal
    };
    let row = TemplateRow {
        template: doc.key.clone(),
        revision: 1,
        title: doc.title.clone(),
        doc: doc.clone(),
        published_at: minute(2),
        published_n: 2,
    };
    assert_eq!(all::<TemplateRow>(&first().books()), [row]);
    refused(first, 3, publish(1), "template_revision", "does not come after revision 1");
}

#[test]
fn a_text_keeps_its_hash() {
    let changed = TextRef { hash: "ff".repeat(32), ..text(1) };
    let label = |label| Fact::VehicleAdded { vehicle: VEHICLE, label, weight_kg: None };
    refused(Journal::opened, 1, label(changed), "text_ref", "had the hash");
    let mut journal = Journal::opened();
    journal.at(1, label(text(1)));
    assert_eq!(all::<TextRow>(&journal.books()).len(), 1);
}

#[test]
fn what_is_unknown_or_there_already_is_refused() {
    let bay = Fact::BayAdded { bay: "b1".into(), name: String::new(), bay_kind: BayKind::Pit, rated_kg: 1 };
    refused(Journal::working, 1, bay, "bay", "there already");
    refused(Journal::opened, 1, Fact::SkillsSet { person: PERSON, skills: Vec::new() }, "person", "unknown");
    let person = Fact::PersonAdded { person: PERSON, name: text(9), skills: Vec::new() };
    refused(Journal::working, 1, person, "person", "there already");
    let vehicle = Fact::VehicleAdded { vehicle: VEHICLE, label: text(9), weight_kg: None };
    refused(Journal::working, 1, vehicle, "vehicle", "there already");
}
