//! What a plan is made from, the plan, and the report that goes with it. Data only: the planner makes plans, the
//! auditor looks at them.

mod input;
mod output;

pub use input::{
    MOVING_MINUTES, ON_TIME_MINUTES, PLACES_OUTSIDE, PlanBay, PlanBlocker, PlanHeld, PlanInput, PlanJob, PlanPin,
    PlanStage, PlanTechnician, PlanTool, StageNow, VehicleNow,
};
pub use output::{
    BayVisit, Because, Cause, Hang, HangsOn, Help, JobOutlook, Nowhere, Objective, Plan, PlanEnd, PlanReport,
    PlannedJob, PlannedStage, Unplaced,
};
