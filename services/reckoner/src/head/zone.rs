//! Minimum zone, exactly: the least distance between two parallel planes that enclose all readings, in whole numbers.
//!
//! Any four points have a zone of their own: of the weights w with Σw = Σwx = Σwy = 0 it is 2·|Σwz|/Σ|w|, and the zone of
//! all points is that of the worst four (Chebyshev; the dual of the linear programme min t, |z − ax − by − c| ≤ t/2). So
//! four points are kept, and whichever lies furthest outside of their zone is exchanged for one of them. Each exchange
//! makes the zone wider, so it ends. Fractions are compared, nothing is rounded.

/// A reading: micrometres in the plane, nanometres of height.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Site {
    pub x: i128,
    pub y: i128,
    pub z: i128,
}

/// The largest span of the readings, so that the products below fit: two metres, and ten millimetres of height.
pub(super) const WIDEST_UM: i128 = 2_000_000;
pub(super) const HIGHEST_NM: i128 = 10_000_000;

/// The zone and the plane in its middle.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Zone {
    /// Width in nanometres, as a fraction.
    pub over: i128,
    pub under: i128,
    /// The middle plane: nanometres a micrometre along, across, and nanometres at the first reading.
    pub along: f64,
    pub across: f64,
    /// The readings that touch the planes, by index: the highs, then the lows.
    pub high: Vec<usize>,
    pub low: Vec<usize>,
}

impl Zone {
    pub fn width_nm(&self) -> f64 {
        double(self.over) / double(self.under)
    }
}

/// As near as a double comes.
#[allow(clippy::cast_precision_loss, reason = "a figure to be shown; what decides is compared in whole numbers")]
pub(super) fn double(whole: i128) -> f64 {
    whole as f64
}

/// Four points with their weights.
#[derive(Debug, Clone)]
struct Four {
    at: [usize; 4],
    weights: [i128; 4],
    /// Half the zone is `over/under`.
    over: i128,
    under: i128,
}

/// Twice the area of a triangle, with its sign.
fn turn(a: Site, b: Site, c: Site) -> i128 {
    (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)
}

impl Four {
    /// None when all four are in one line.
    fn of(sites: &[Site], at: [usize; 4]) -> Option<Self> {
        let [a, b, c, d] = at.map(|index| sites[index]);
        let weights = [turn(b, c, d), -turn(a, c, d), turn(a, b, d), -turn(a, b, c)];
        let under: i128 = weights.iter().map(|weight| weight.abs()).sum();
        let over: i128 = weights.iter().zip(at).map(|(weight, index)| weight * sites[index].z).sum();
        (under > 0).then(|| Self { at, weights, over: over.abs(), under }.turned(over < 0))
    }

    /// With weights of such a sign that a positive one belongs to a high point.
    fn turned(mut self, turn: bool) -> Self {
        if turn {
            self.weights = self.weights.map(|weight| -weight);
        }
        self
    }

    fn wider_than(&self, other: &Self) -> bool {
        self.over * other.under > other.over * self.under
    }

    fn three_in_line(&self) -> Option<[usize; 3]> {
        let idle = self.weights.iter().position(|weight| *weight == 0)?;
        let rest: Vec<usize> = (0..4).filter(|index| *index != idle).collect();
        Some([rest[0], rest[1], rest[2]])
    }
}

/// The zone of at least three points that are not all in one line, no two of them at one place; none otherwise.
pub(super) fn minimum_zone(sites: &[Site]) -> Option<Zone> {
    if sites.len() == 3 {
        return three(sites);
    }
    let mut four = first(sites)?;
    loop {
        let outside = match four.three_in_line() {
            Some(line) => hinge(sites, &four, line),
            None => fixed(sites, &four),
        };
        match outside {
            Found::Plane(along, across) => return Some(finished(sites, &four, along, across)),
            Found::Outside(points) => four = exchange(sites, &four, &points)?,
        }
    }
}

enum Found {
    /// A plane within whose zone all points lie.
    Plane(f64, f64),
    /// Points that can't lie in the zone of the four.
    Outside(Vec<usize>),
}

fn three(sites: &[Site]) -> Option<Zone> {
    let area = turn(sites[0], sites[1], sites[2]);
    let (along, across) = slopes(sites[0], sites[1], sites[2], [sites[0].z, sites[1].z, sites[2].z], 1)?;
    (area != 0).then(|| Zone { over: 0, under: 1, along, across, high: vec![0, 1, 2], low: Vec::new() })
}

/// Two that are far apart, one that is far from their line, and one more.
fn first(sites: &[Site]) -> Option<Four> {
    let far = |from: Site| (0..sites.len()).max_by_key(|index| distance(from, sites[*index]));
    let one = far(sites[0])?;
    let two = far(sites[one])?;
    let three = (0..sites.len()).max_by_key(|index| turn(sites[one], sites[two], sites[*index]).abs())?;
    if turn(sites[one], sites[two], sites[three]) == 0 {
        return None;
    }
    let rest = (0..sites.len()).filter(|index| ![one, two, three].contains(index));
    let fours = rest.filter_map(|four| Four::of(sites, [one, two, three, four]));
    fours.reduce(|best, next| if next.wider_than(&best) { next } else { best })
}

fn distance(a: Site, b: Site) -> i128 {
    (b.x - a.x).pow(2) + (b.y - a.y).pow(2)
}

/// A point's height, shifted so that all four of a zone lie in one plane, times the zone's denominator.
fn shifted(sites: &[Site], four: &Four, place: usize) -> i128 {
    sites[four.at[place]].z * four.under - four.weights[place].signum() * four.over
}

/// The plane through three places with these heights over `under`: slopes in nanometres a micrometre.
fn slopes(a: Site, b: Site, c: Site, heights: [i128; 3], under: i128) -> Option<(f64, f64)> {
    let area = turn(a, b, c);
    let (rise_b, rise_c) = (heights[1] - heights[0], heights[2] - heights[0]);
    let along = rise_b * (c.y - a.y) - rise_c * (b.y - a.y);
    let across = (b.x - a.x) * rise_c - (c.x - a.x) * rise_b;
    let whole = double(area) * double(under);
    (area != 0).then(|| (double(along) / whole, double(across) / whole))
}

/// All four weigh, so their plane is fixed; the points that lie furthest outside on either side.
fn fixed(sites: &[Site], four: &Four) -> Found {
    let [a, b, c] = [0, 1, 2].map(|place| sites[four.at[place]]);
    let heights = [0, 1, 2].map(|place| shifted(sites, four, place));
    let area = turn(a, b, c);
    let along = (heights[1] - heights[0]) * (c.y - a.y) - (heights[2] - heights[0]) * (b.y - a.y);
    let across = (b.x - a.x) * (heights[2] - heights[0]) - (c.x - a.x) * (heights[1] - heights[0]);
    // Above the plane, times `under` and the area.
    let above = |site: &Site| {
        let plane = heights[0] * area + along * (site.x - a.x) + across * (site.y - a.y);
        (site.z * four.under * area - plane) * area.signum()
    };
    let zone = four.over * area.abs();
    let (mut highest, mut lowest) = ((0, zone), (0, -zone));
    for (index, height) in sites.iter().map(above).enumerate() {
        if height > highest.1 {
            highest = (index, height);
        } else if height < lowest.1 {
            lowest = (index, height);
        }
    }
    let found = [(highest.0, highest.1 > zone), (lowest.0, lowest.1 < -zone)];
    let outside: Vec<usize> = found.into_iter().filter(|(_, is_outside)| *is_outside).map(|(index, _)| index).collect();
    if !outside.is_empty() {
        return Found::Outside(outside);
    }
    let whole = double(area) * double(four.under);
    Found::Plane(double(along) / whole, double(across) / whole)
}

/// A fraction with a positive denominator, compared without multiplying what would not fit.
#[derive(Debug, Clone, Copy)]
struct Fraction {
    over: i128,
    under: i128,
}

impl Fraction {
    fn new(over: i128, under: i128) -> Self {
        if under < 0 { Self { over: -over, under: -under } } else { Self { over, under } }
    }

    fn compare(&self, other: &Self) -> std::cmp::Ordering {
        let whole = self.over.div_euclid(self.under).cmp(&other.over.div_euclid(other.under));
        let rest = |one: &Self, by: &Self| one.over.rem_euclid(one.under) * by.under;
        whole.then_with(|| rest(self, other).cmp(&rest(other, self)))
    }

    fn value(&self) -> f64 {
        double(self.over) / double(self.under)
    }
}

/// A bound of the tilt, and the point that makes it.
type Bound = (usize, Fraction);

/// Three in a line weigh, and the plane still turns about that line like a lid: whether some tilt takes everybody in.
fn hinge(sites: &[Site], four: &Four, line: [usize; 3]) -> Found {
    let ends = [(0, 1), (0, 2), (1, 2)].map(|(one, two)| (line[one], line[two]));
    let place = |at: usize| sites[four.at[at]];
    let Some((one, two)) = ends.into_iter().max_by_key(|(one, two)| distance(place(*one), place(*two))) else {
        return Found::Plane(0.0, 0.0);
    };
    let (a, b) = (place(one), place(two));
    let (height_a, height_b) = (shifted(sites, four, one), shifted(sites, four, two));
    let length = distance(a, b);
    let zone = four.over * length;
    let (mut least, mut most): (Option<Bound>, Option<Bound>) = (None, None);
    for (index, site) in sites.iter().enumerate() {
        let along = (b.x - a.x) * (site.x - a.x) + (b.y - a.y) * (site.y - a.y);
        let above = site.z * four.under * length - height_a * length - (height_b - height_a) * along;
        let lever = turn(a, b, *site);
        if lever == 0 {
            if above.abs() > zone {
                return Found::Outside(vec![index]);
            }
            continue;
        }
        let (near, far) = (Fraction::new(above - zone, lever), Fraction::new(above + zone, lever));
        let (low, high) = if lever > 0 { (near, far) } else { (far, near) };
        if least.as_ref().is_none_or(|known| low.compare(&known.1).is_gt()) {
            least = Some((index, low));
        }
        if most.as_ref().is_none_or(|known| high.compare(&known.1).is_lt()) {
            most = Some((index, high));
        }
    }
    let (Some((under, least)), Some((over, most))) = (least, most) else { return Found::Plane(0.0, 0.0) };
    if least.compare(&most).is_gt() {
        return Found::Outside(vec![under, over]);
    }
    let tilt = f64::midpoint(least.value(), most.value());
    let whole = double(length) * double(four.under);
    let (run_x, run_y) = (double(b.x - a.x), double(b.y - a.y));
    let rise = double(height_b - height_a);
    Found::Plane((rise * run_x - tilt * run_y) / whole, (rise * run_y + tilt * run_x) / whole)
}

/// The worst four among those that were kept and those that lie outside.
fn exchange(sites: &[Site], four: &Four, outside: &[usize]) -> Option<Four> {
    let mut pool = four.at.to_vec();
    pool.extend(outside.iter().filter(|index| !four.at.contains(index)));
    let mut best: Option<Four> = None;
    for a in 0..pool.len() {
        for b in a + 1..pool.len() {
            for c in b + 1..pool.len() {
                for d in c + 1..pool.len() {
                    let Some(next) = Four::of(sites, [pool[a], pool[b], pool[c], pool[d]]) else { continue };
                    if best.as_ref().is_none_or(|known| next.wider_than(known)) {
                        best = Some(next);
                    }
                }
            }
        }
    }
    // An exchange that widens nothing would go on for ever; the theorem says that there is none.
    best.filter(|best| best.wider_than(four))
}

fn finished(sites: &[Site], four: &Four, along: f64, across: f64) -> Zone {
    let weighing = |sign: i128| {
        let places = (0..4).filter(move |place| four.weights[*place].signum() == sign);
        places.map(|place| four.at[place]).collect::<Vec<_>>()
    };
    let divisor = common_measure(2 * four.over, four.under).max(1);
    debug_assert!(four.at.iter().all(|at| *at < sites.len()));
    Zone {
        over: 2 * four.over / divisor,
        under: four.under / divisor,
        along,
        across,
        high: weighing(1),
        low: weighing(-1),
    }
}

fn common_measure(a: i128, b: i128) -> i128 {
    if b == 0 { a } else { common_measure(b, a % b) }
}
