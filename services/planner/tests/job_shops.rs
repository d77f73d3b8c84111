//! Known optima of job shops. Outside sources: Fisher and Thompson 1963 (ft06, makespan 55) and Lawrence 1984 (la01,
//! makespan 666), the published instances and their proved optima.

use leadhand_planner::Budget;
use leadhand_planner::engine::{Activity, Project, Solved, solve};

/// Jobs and machines on the first line, then a job a line: machine and duration in turn.
fn read(text: &str) -> (Vec<Activity>, Vec<u32>) {
    let rows: Vec<Vec<u32>> = text
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| line.split_whitespace().map(|word| word.parse().expect("a number")).collect())
        .collect();
    let machines = rows[0][1] as usize;
    let mut activities: Vec<Activity> = Vec::new();
    for row in &rows[1..] {
        for (k, step) in row.chunks(2).enumerate() {
            let mut demand = vec![0; machines];
            demand[step[0] as usize] = 1;
            let before = if k + 1 < machines { vec![(activities.len() + 1, 0)] } else { Vec::new() };
            activities.push(Activity { duration: step[1], demand, before });
        }
    }
    (activities, vec![1; machines])
}

fn solved(text: &str, schedules: u64) -> Solved {
    let (activities, capacity) = read(text);
    let project = Project::new(&activities, &capacity).expect("a project");
    let mut stop = || false;
    let solved = solve(&project, 1, &mut Budget { schedules, stop: &mut stop });
    feasible(&activities, &capacity, &solved.start);
    solved
}

/// Precedence and capacity, unit of time by unit of time.
fn feasible(activities: &[Activity], capacity: &[u32], start: &[u32]) {
    for (i, a) in activities.iter().enumerate() {
        for &(j, lag) in &a.before {
            assert!(start[i] + a.duration + lag <= start[j], "{i} before {j}");
        }
    }
    let end = activities.iter().zip(start).map(|(a, s)| s + a.duration).max().expect("some");
    for t in 0..end {
        for (r, &most) in capacity.iter().enumerate() {
            let running = activities.iter().zip(start).filter(|(a, s)| **s <= t && t < **s + a.duration);
            let used: u32 = running.map(|(a, _)| a.demand[r]).sum();
            assert!(used <= most, "{used} of resource {r} at {t}");
        }
    }
}

#[test]
fn ft06_takes_55() {
    assert_eq!(solved(include_str!("vectors/ft06.jsp"), 20_000).end, 55);
}

#[test]
fn la01_takes_666() {
    assert_eq!(solved(include_str!("vectors/la01.jsp"), 20_000).end, 666);
}

/// Two machines, three jobs in the same order on both: Johnson's rule (1954) gives the optimum, worked by hand: jobs
/// (3,2), (1,4), (2,3) in the order 2, 3, 1 are over at 1 + 4 + 3 + 2 = 10.
#[test]
fn a_flow_shop_of_two_machines_takes_what_johnsons_rule_says() {
    let text = "3 2\n0 3 1 2\n0 1 1 4\n0 2 1 3\n";
    assert_eq!(solved(text, 2_000).end, 10);
}

/// Resources that are shared, with waits: A and B (two units each of three) can't overlap, C waits 4 after A.
/// Worked by hand: A 0-3, B 3-5, C 7-8.
#[test]
fn shared_resources_and_waits_bind() {
    let activity = |duration, demand, before| Activity { duration, demand: vec![demand], before };
    let activities = [activity(3, 2, vec![(2, 4)]), activity(2, 2, Vec::new()), activity(1, 3, Vec::new())];
    let project = Project::new(&activities, &[3]).expect("a project");
    let mut stop = || false;
    let solved = solve(&project, 1, &mut Budget { schedules: 500, stop: &mut stop });
    feasible(&activities, &[3], &solved.start);
    assert_eq!(solved.end, 8);
}

#[test]
fn the_same_seed_gives_the_same_schedule_and_a_stop_ends_it() {
    let text = include_str!("vectors/la01.jsp");
    assert_eq!(solved(text, 300).start, solved(text, 300).start);
    let (activities, capacity) = read(text);
    let project = Project::new(&activities, &capacity).expect("a project");
    let mut asked = 0;
    let mut stop = || {
        asked += 1;
        asked > 1
    };
    let solved = solve(&project, 3, &mut Budget { schedules: 1_000_000, stop: &mut stop });
    feasible(&activities, &capacity, &solved.start);
    assert!(solved.schedules < 1_000_000);
}
