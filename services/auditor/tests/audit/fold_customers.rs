//! Facts about customers, and what is said about vehicles.

use crate::kit::{CUSTOMER, JOB, Journal, VEHICLE, all, one, refused, text};
use leadhand_facts::rows::{CustomerRow, JobRow, TextRow, VehicleRow};
use leadhand_facts::{Fact, TextId};

fn added() -> Fact {
    Fact::CustomerAdded { customer: CUSTOMER, name: text(20), contact: Some(text(21)), about: None }
}

fn described(plate: Option<u128>, erased: Vec<TextId>) -> Fact {
    let (label, plate, customer) = (text(4), plate.map(text), Some(CUSTOMER));
    Fact::VehicleDescribed { vehicle: VEHICLE, label, plate, weight_kg: None, customer, erased }
}

/// The vehicle of job 1 is a customer's, and so is the job.
fn owned() -> Journal {
    let mut journal = Journal::working();
    journal.at(1, added());
    journal.at(1, described(Some(22), Vec::new()));
    journal.at(1, Fact::JobCustomerSet { job: JOB, customer: Some(CUSTOMER) });
    journal
}

fn closed() -> Journal {
    let mut journal = owned();
    journal.at(2, Fact::JobCancelled { job: JOB, reason: text(23), apart: false });
    journal
}

fn forget(texts: &[u128]) -> Fact {
    Fact::CustomerForgotten { customer: CUSTOMER, texts: texts.iter().map(|number| text(*number).id).collect() }
}

#[test]
fn a_customer_a_vehicle_and_a_job_are_as_said() {
    let books = owned().books();
    let (name, contact) = (text(20).id, Some(text(21).id));
    let row = CustomerRow { customer: CUSTOMER, name, contact, about: None, forgotten: false, added_n: 9 };
    assert_eq!(all::<CustomerRow>(&books), [row]);
    let (label, plate, customer) = (text(4).id, Some(text(22).id), Some(CUSTOMER));
    let vehicle = VehicleRow { vehicle: VEHICLE, label, plate, weight_kg: None, customer, added_n: 5 };
    assert_eq!(all::<VehicleRow>(&books), [vehicle]);
    assert_eq!(one::<JobRow>(&books, &(JOB,)).customer, Some(CUSTOMER));
}

#[test]
fn replaced_words_are_erased_and_no_others() {
    let edited = |erased: &[u128]| Fact::CustomerEdited {
        customer: CUSTOMER,
        name: text(24),
        contact: Some(text(21)),
        about: None,
        erased: erased.iter().map(|number| text(*number).id).collect(),
    };
    let mut journal = owned();
    let n = journal.at(2, edited(&[20]));
    let books = journal.books();
    assert_eq!(one::<TextRow>(&books, &(text(20).id,)).erased_n, Some(n));
    assert_eq!(one::<TextRow>(&books, &(text(21).id,)).erased_n, None);
    refused(owned, 2, edited(&[]), "text_ref", "replaced and is kept");
    refused(owned, 2, edited(&[20, 4]), "text_ref", "another's");
    refused(owned, 2, described(None, Vec::new()), "text_ref", "replaced and is kept");
    refused(Journal::working, 2, described(None, Vec::new()), "customer", "unknown");
}

#[test]
fn forgetting_takes_the_names_and_leaves_the_vehicle_to_nobody() {
    let names = [4, 20, 21, 22];
    let mut journal = closed();
    let n = journal.at(3, forget(&names));
    let books = journal.books();
    assert!(one::<CustomerRow>(&books, &(CUSTOMER,)).forgotten);
    assert_eq!(one::<VehicleRow>(&books, &(VEHICLE,)).customer, None);
    assert_eq!(one::<JobRow>(&books, &(JOB,)).customer, Some(CUSTOMER), "figures stay together");
    for number in names {
        assert_eq!(one::<TextRow>(&books, &(text(number).id,)).erased_n, Some(n));
    }
    refused(closed, 3, forget(&[4, 20, 21]), "text_ref", "names a customer who is forgotten");
    refused(closed, 3, forget(&[4, 20, 20, 21, 22]), "text_ref", "erased before");
    refused(owned, 3, forget(&names), "customer", "still has an open job");
    let forgotten = || {
        let mut journal = closed();
        journal.at(3, forget(&names));
        journal
    };
    refused(forgotten, 4, forget(&[]), "customer", "forgotten before");
    refused(forgotten, 4, described(None, Vec::new()), "customer", "forgotten before");
    refused(forgotten, 4, Fact::JobCustomerSet { job: JOB, customer: Some(CUSTOMER) }, "customer", "forgotten before");
    let mut again = forgotten();
    again.at(4, forget(&[23]));
    assert!(one::<TextRow>(&again.books(), &(text(23).id,)).erased_n.is_some(), "words that were left over");
}
