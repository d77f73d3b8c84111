//! What a bolt bears by its property class: ISO 898-1.

use super::thread::short;
use super::{ISO_STRENGTH, ISO_THREADS, Thread};
use crate::answer::{Answer, Rounding};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// A property class of ISO 898-1, as it is stamped on the head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is what is stamped on the head")]
pub enum PropertyClass {
    C4_6,
    C4_8,
    C5_6,
    C5_8,
    C6_8,
    C8_8,
    C9_8,
    C10_9,
    C12_9,
}

/// Name, proof stress up to and above M16, yield (or 0.2 % proof stress) up to and above M16, least breaking stress up to and
/// above M16, in megapascals. 8.8, 10.9 and 12.9 proof stress and 10.9 yield: from copies of ISO 898-1; the others from
/// memory.
type Row = (PropertyClass, &'static str, [f64; 2], [f64; 2], [f64; 2]);

const CLASSES: [Row; 9] = [
    (PropertyClass::C4_6, "4.6", [225.0, 225.0], [240.0, 240.0], [400.0, 400.0]),
    (PropertyClass::C4_8, "4.8", [310.0, 310.0], [340.0, 340.0], [420.0, 420.0]),
    (PropertyClass::C5_6, "5.6", [280.0, 280.0], [300.0, 300.0], [500.0, 500.0]),
    (PropertyClass::C5_8, "5.8", [380.0, 380.0], [420.0, 420.0], [520.0, 520.0]),
    (PropertyClass::C6_8, "6.8", [440.0, 440.0], [480.0, 480.0], [600.0, 600.0]),
    (PropertyClass::C8_8, "8.8", [580.0, 600.0], [640.0, 660.0], [800.0, 830.0]),
    (PropertyClass::C9_8, "9.8", [650.0, 650.0], [720.0, 720.0], [900.0, 900.0]),
    (PropertyClass::C10_9, "10.9", [830.0, 830.0], [940.0, 940.0], [1040.0, 1040.0]),
    (PropertyClass::C12_9, "12.9", [970.0, 970.0], [1100.0, 1100.0], [1220.0, 1220.0]),
];

/// Least stretch after the break in per cent, each from memory of ISO 898-1, Table 3: of machined pieces, and of whole bolts
/// where the table has none.
const STRETCH: [(PropertyClass, f64); 9] = [
    (PropertyClass::C4_6, 22.0),
    (PropertyClass::C4_8, 24.0),
    (PropertyClass::C5_6, 20.0),
    (PropertyClass::C5_8, 22.0),
    (PropertyClass::C6_8, 20.0),
    (PropertyClass::C8_8, 12.0),
    (PropertyClass::C9_8, 10.0),
    (PropertyClass::C10_9, 9.0),
    (PropertyClass::C12_9, 8.0),
];

/// Up to here class 8.8 has its lower figure, and class 9.8 ends.
const SMALL_MM: f64 = 16.0;

impl PropertyClass {
    /// Reads what is stamped: `10.9`.
    pub fn read(field: &str, text: &str) -> Result<Self, Refusal> {
        let tidy = text.trim().replace(',', ".");
        CLASSES.iter().find(|class| class.1 == tidy).map(|class| class.0).ok_or_else(|| Refusal::Unknown {
            field: field.to_owned(),
            given: short(text),
            list: "the property classes of ISO 898-1",
            known: CLASSES.map(|class| class.1).join(", "),
        })
    }

    fn row(self) -> &'static Row {
        // Every class has its row; the first is never wrongly taken.
        CLASSES.iter().find(|class| class.0 == self).unwrap_or(&CLASSES[0])
    }

    /// Proof stress Sp for a bolt of this size.
    pub fn proof_stress_mpa(self, thread: Thread) -> Result<f64, Refusal> {
        self.covers(thread)?;
        Ok(self.row().2[usize::from(thread.diameter_mm() > SMALL_MM)])
    }

    /// Least yield stress, or stress at 0.2 % lasting stretch.
    pub fn yield_stress_mpa(self, thread: Thread) -> Result<f64, Refusal> {
        self.covers(thread)?;
        Ok(self.row().3[usize::from(thread.diameter_mm() > SMALL_MM)])
    }

    /// Least stress at which it breaks.
    pub fn breaking_stress_mpa(self, thread: Thread) -> Result<f64, Refusal> {
        self.covers(thread)?;
        Ok(self.row().4[usize::from(thread.diameter_mm() > SMALL_MM)])
    }

    /// Least stretch in per cent of its length at which it has broken.
    pub fn breaking_stretch_percent(self) -> f64 {
        STRETCH.iter().find(|(class, _)| *class == self).map_or(STRETCH[8].1, |(_, percent)| *percent)
    }

    fn covers(self, thread: Thread) -> Result<(), Refusal> {
        if self == Self::C9_8 && thread.diameter_mm() > SMALL_MM {
            return Err(Refusal::NotCovered {
                field: "class".to_owned(),
                method: "ISO 898-1",
                case: format!("class 9.8 above M16, so not {thread}"),
                todo: "read the class on the head again",
            });
        }
        Ok(())
    }

    /// Proof load from the tabulated stress area.
    pub fn proof_load_n(self, thread: Thread) -> Result<f64, Refusal> {
        Ok(self.proof_stress_mpa(thread)? * thread.tabulated_stress_area_mm2())
    }

    /// Load at yield from the tabulated stress area.
    pub fn yield_load_n(self, thread: Thread) -> Result<f64, Refusal> {
        Ok(self.yield_stress_mpa(thread)? * thread.tabulated_stress_area_mm2())
    }

    /// Least load at which it breaks, from the tabulated stress area.
    pub fn breaking_load_n(self, thread: Thread) -> Result<f64, Refusal> {
        Ok(self.breaking_stress_mpa(thread)? * thread.tabulated_stress_area_mm2())
    }
}

impl std::fmt::Display for PropertyClass {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.row().1)
    }
}

/// What a bolt bears, in newtons. Past its yield a torque no longer tells its preload: it stretches instead.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bears {
    pub proof: f64,
    pub yields: f64,
    pub breaks: f64,
}

impl Bears {
    pub fn of(thread: Thread, class: PropertyClass) -> Result<Self, Refusal> {
        Ok(Self {
            proof: class.proof_load_n(thread)?,
            yields: class.yield_load_n(thread)?,
            breaks: class.breaking_load_n(thread)?,
        })
    }

    /// What the bolt pulls with where an elastic one would pull with so much.
    pub fn reached(self, elastic_n: f64) -> f64 {
        elastic_n.min(self.yields)
    }

    /// The label of a preload, which says where it ends.
    pub fn label(self, label: &str, elastic_n: f64) -> String {
        if elastic_n > self.yields { format!("{label}: it yields there") } else { label.to_owned() }
    }

    /// What happens to it, in place of a preload that it never has.
    pub fn caution(self, answer: &mut Answer, when: &str, elastic_n: f64) {
        let newtons = |value: f64| format!("{} N", Rounding::Digits(2).of(value));
        let [asked, proof, yields, breaks] = [elastic_n, self.proof, self.yields, self.breaks].map(newtons);
        let (word, text) = if elastic_n > self.breaks {
            let text = format!(
                "{when} an elastic bolt would pull with {asked}; this one yields at {yields} and breaks at {breaks}, \
                 perhaps before the wrench clicks. Take less torque, or make sure of bolt and friction."
            );
            (SignalWord::Danger, text)
        } else if elastic_n > self.yields {
            let text = format!(
                "{when} the bolt yields at {yields}: it stretches for good and pulls no harder. Take less torque, or be \
                 sure of the friction."
            );
            (SignalWord::Warning, text)
        } else if elastic_n > self.proof * (1.0 + NOISE) {
            (SignalWord::Warning, format!("{when} the bolt is past its proof load of {proof}."))
        } else {
            return;
        };
        answer.caution(word, text);
    }
}

/// What a double loses is no load.
const NOISE: f64 = 1e-9;

/// What a bolt of a size and class bears.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    /// Its thread.
    pub thread: Thread,
    /// What is stamped on its head.
    pub class: PropertyClass,
}

impl Strength {
    /// Proof load and load at yield.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        let formula = "Fp = Sp·As; yield load = Rp0.2·As; breaking load = Rm·As; As to three figures, as tabulated";
        let mut answer = Answer::new("Proof load", formula, &[ISO_STRENGTH, ISO_THREADS]);
        answer.word("thread", self.thread.to_string());
        answer.word("class", self.class.to_string());
        let three = Rounding::Digits(3);
        answer.add("proof_load", "Proof load Fp", self.class.proof_load_n(self.thread)?, "N", three);
        answer.add("proof_stress", "Proof stress Sp", self.class.proof_stress_mpa(self.thread)?, "MPa", three);
        answer.add("yield_load", "Load at yield", self.class.yield_load_n(self.thread)?, "N", three);
        answer.add(
            "breaking_load",
            "Least load at which it breaks",
            self.class.breaking_load_n(self.thread)?,
            "N",
            three,
        );
        answer.add("stress_area", "Stress area As", self.thread.tabulated_stress_area_mm2(), "mm2", three);
        Ok(answer)
    }
}
