use super::*;

#[test]
fn what_is_drawn_is_never_less_than_what_is_poured() {
    assert_eq!(whole_millilitres(3.5).unwrap(), 3_500);
    assert_eq!(whole_millilitres(3.500_2).unwrap(), 3_501);
    assert_eq!(whole_millilitres(0.1 + 0.2).unwrap(), 300);
    assert_eq!((in_unit(3_501, "L"), in_unit(3_501, "mL"), in_unit(1, "1")), (Some(4), Some(3_501), None));
}

fn need(item: &str, quantity: i64, reserved: i64) -> StepNeed {
    StepNeed { item: item.into(), quantity, reserved, unit: "mL".into(), ..Default::default() }
}

fn step(number: i32, state: StepState, instruction: &str, needs: Vec<StepNeed>) -> Step {
    let instruction = instruction.to_owned();
    Step { step: number, state: state.into(), instruction, needs, ..Default::default() }
}

fn stage(key: &str, state: StageState, steps: Vec<Step>) -> Stage {
    Stage { stage: key.into(), state: state.into(), steps, ..Default::default() }
}

fn job(stages: Vec<Stage>) -> GetJobResponse {
    GetJobResponse { stages, ..Default::default() }
}

fn filling(item: &str) -> Filling {
    Filling {
        job: 7,
        stage: "fill".into(),
        fluid: "coolant".into(),
        recipe: "3.65 L at 100 % with 2.45 L of water".into(),
        litres: 3.65,
        mixed: true,
        item: item.into(),
        unit: "mL".into(),
        packs: Vec::new(),
        cautions: Vec::new(),
    }
}

#[test]
fn what_any_step_asks_for_already_is_not_asked_for_twice() {
    let fill = vec![
        step(1, StepState::Done, "", vec![need("coolant", 9_000, 0)]),
        step(2, StepState::Pending, "", vec![need("coolant", 3_000, 2_000), need("water", 100, 0)]),
    ];
    let drain = vec![step(1, StepState::Pending, "", vec![need("coolant", 500, 0)])];
    let whole = job(vec![
        stage("fill", StageState::Ready, fill),
        stage("drain", StageState::NotYet, drain.clone()),
        stage("flush", StageState::Finished, drain.clone()),
        stage("bleed", StageState::Skipped, drain),
    ]);
    let books = Books::of(&whole, &filling("coolant"));
    let found: Vec<(&str, i64)> =
        books.others.iter().map(|one| (one.stage.as_str(), one.quantity("coolant"))).collect();
    assert_eq!((found, books.own.len()), (vec![("fill", 3_000), ("drain", 500)], 0));
    assert!(Books::of(&whole, &filling("oil")).others.is_empty());
    // Two systems that are filled out of one drum are two fillings.
    let gearbox = step(
        3,
        StepState::Pending,
        "Fill gearbox again: 1.90 L, from 1.9 L of coolant; go by the level.",
        vec![need("coolant", 1_900, 0)],
    );
    let both = job(vec![stage("fill", StageState::Ready, vec![gearbox])]);
    let drum = Books::of(&both, &filling("coolant"));
    assert!(drum.others.is_empty() && drum.own.is_empty());
    let told = books.others[0].told(7, "coolant", "mL");
    assert!(told.contains("step 2 of fill of job 7") && told.contains("2 L of it set aside"), "{told}");
    let wanted = filling("coolant").wanted(&books, &books.kept_of_others("coolant"), 3_650);
    assert_eq!(wanted.needs.iter().map(|need| need.quantity).collect::<Vec<_>>(), [150], "the rest alone");
    let wanted = filling("coolant").wanted(&books, &books.kept_of_others("coolant"), 3_000);
    assert!(wanted.needs.is_empty(), "{wanted:?}");
}

/// The step of a fill is known by its words, and says the same only for the same recipe and the same needs.
#[test]
fn a_changed_target_is_another_step() {
    let says =
        "Fill coolant again: 3.65 L at 100 % with 2.45 L of water, from 3.65 L of walk-a; run it warm, and measure.";
    let own = |words: &str, quantity| step(3, StepState::Pending, words, vec![need("walk-a", quantity, 0)]);
    let books = |one: Step| Books::of(&job(vec![stage("fill", StageState::Ready, vec![one])]), &filling("walk-a"));
    let same = books(own(says, 3_650));
    let wanted = filling("walk-a").wanted(&same, &same.kept_of_others("walk-a"), 3_650);
    assert_eq!(wanted.instruction, says);
    assert!(same.others.is_empty() && same.own[0].says(&wanted));
    for other in [own(&says.replace("3.65", "2.38"), 3_650), own(says, 5_000)] {
        assert!(!books(other).own[0].says(&wanted));
    }
    let oil = books(own("Fill oil again: 4 L, from 4 L of walk-a; go by the level.", 4_000));
    assert_eq!((oil.own.len(), oil.others.len()), (0, 0), "another fluid's filling is its own");
}

/// What is set aside of another item counts, and only what is missing is asked for.
#[test]
fn two_items_fill_one_fluid_once() {
    let words =
        "Fill coolant again: 3.65 L at 100 % with 2.45 L of water, from 4 L of walk-a; run it warm, and measure.";
    let with = |reserved| {
        let own = step(3, StepState::Pending, words, vec![need("walk-a", 4_000, reserved)]);
        Books::of(&job(vec![stage("fill", StageState::Ready, vec![own])]), &filling("walk-b"))
    };
    let asked = |reserved, needed| {
        let books = with(reserved);
        let kept = books.kept_of_others("walk-b");
        let wanted = filling("walk-b").wanted(&books, &kept, needed);
        let needs: Vec<(String, i64)> = wanted.needs.into_iter().map(|need| (need.item, need.quantity)).collect();
        (kept.values().map(|(ml, _)| *ml).sum::<i64>(), needs)
    };
    assert_eq!(asked(4_000, 0), (4_000, vec![("walk-a".to_owned(), 4_000)]), "nothing of the other");
    let both = vec![("walk-a".to_owned(), 2_000), ("walk-b".to_owned(), 1_650)];
    assert_eq!(asked(2_000, 1_650), (2_000, both), "the rest");
    assert_eq!(asked(0, 3_650), (0, vec![("walk-b".to_owned(), 3_650)]), "in the place of what is not there");
}

#[test]
fn the_bins_are_told_and_no_packs() {
    let line = |place: &str, quantity| StockLine { place: place.into(), quantity, ..Default::default() };
    let lines = [line("bin-d1", 4_000), line("bin-d2", 1_000), line("", 0)];
    assert_eq!(bins(lines.iter(), "mL"), " (4 L from bin-d1, 1 L from bin-d2)");
    assert_eq!(bins([].iter(), "mL"), "");
    let asks = |number, quantity| Booked {
        stage: "fill".into(),
        step: number,
        instruction: String::new(),
        needs: vec![need("conc", quantity, 0)],
    };
    let mut lines = vec![StockLine { item: "conc".into(), ..line("bin-d1", 5_000) }];
    let told = secured(&[asks(2, 4_000), asks(3, 1_000)], "conc", &lines, 11).unwrap();
    assert_eq!(
        told,
        "5 L of conc are set aside for job 11: 4 L for step 2 of fill, 1 L for step 3 of fill (5 L from bin-d1)"
    );
    lines[0].short = 2_000;
    assert!(
        secured(&[asks(4, 5_000)], "conc", &lines, 11)
            .unwrap()
            .starts_with("5 L of conc are needed, and 2 L are SHORT,")
    );
    assert_eq!(secured(&[], "conc", &lines, 11), None);
}
