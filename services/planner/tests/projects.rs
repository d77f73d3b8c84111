//! Projects with shared resources: the ways to hold a profile agree. Their optima on public instances are measured by
//! the example `instances`.

use leadhand_planner::Budget;
use leadhand_planner::engine::{Activity, Project, solve};
use leadhand_planner::rng::Rng;

/// A random project with four resources of up to 30 each; `scale` multiplies capacities and demands, which changes no
/// schedule.
fn random(seed: u64, scale: u32) -> (Vec<Activity>, Vec<u32>) {
    let mut rng = Rng::new(seed);
    let mut draw = |low, high| u32::try_from(rng.between(low, high)).expect("small");
    let n = 30_usize;
    let capacity: Vec<u32> = (0..4).map(|_| scale * draw(10, 30)).collect();
    let mut activities = Vec::new();
    for i in 0..n {
        // Some take no time, some are wider than what a profile looks at in one go.
        let duration = if draw(0, 9) == 0 { draw(0, 60) } else { draw(0, 20) };
        let demand = (0..4).map(|_| if draw(0, 1) == 0 { 0 } else { scale * draw(1, 10) }).collect();
        let many = draw(0, 6);
        let mut before: Vec<(usize, u32)> =
            (0..many).map(|_| (draw(i + 1, n) as usize, draw(0, 4))).filter(|&(j, _)| j < n).collect();
        before.sort_unstable();
        before.dedup_by_key(|(j, _)| *j);
        activities.push(Activity { duration, demand, before });
    }
    (activities, capacity)
}

/// Resources of at most 127 are held in bytes, larger ones in words of their own: the same project in larger units is
/// planned by the other way, and comes to the same schedule, which can be done.
#[test]
fn small_and_large_units_give_the_same_schedule() {
    for seed in 0..40 {
        let planned = |scale| {
            let (activities, capacity) = random(seed, scale);
            let project = Project::new(&activities, &capacity).expect("a project");
            let mut stop = || false;
            let solved = solve(&project, 1, &mut Budget { schedules: 400, stop: &mut stop });
            feasible(&activities, &capacity, &solved.start);
            (solved.start, solved.end)
        };
        assert_eq!(planned(1), planned(200), "project {seed}");
    }
}

fn feasible(activities: &[Activity], capacity: &[u32], start: &[u32]) {
    for (i, a) in activities.iter().enumerate() {
        for &(j, lag) in &a.before {
            assert!(start[i] + a.duration + lag <= start[j], "{j} is before {i} is over");
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
