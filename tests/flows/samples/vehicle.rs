//! What is lent for a vehicle, and in which condition it is.

use super::*;

/// A shared tool that is free, and one that a job has.
pub(super) async fn shared_tools(shop: &Shop, n: usize, job: i64) {
    for key in ["lock", "gauge"] {
        let tool = v1::Tool { tool: format!("{key}-{n}"), name: text(), ..Default::default() };
        shop.lead.add_tool(v1::AddToolRequest { write: write(), tool: Some(tool) }).await.unwrap();
    }
    let lend = v1::LendToolRequest { write: write(), tool: format!("gauge-{n}"), job, ..Default::default() };
    shop.lead.lend_tool(lend).await.unwrap();
}

/// A supplier, and something that somebody was told about a job.
pub(super) async fn supplier_and_told(shop: &Shop, n: usize, job: i64) {
    let supplier = v1::Supplier { supplier: format!("north-{n}"), name: text(), rounds: Vec::new() };
    shop.lead.set_supplier(v1::SetSupplierRequest { write: write(), supplier: Some(supplier) }).await.unwrap();
    let (whom, words, promised_at) = (text(), text(), None);
    let told = v1::RecordToldRequest { write: write(), job, whom, words, promised_at };
    shop.lead.record_told(told).await.unwrap();
}

impl World {
    pub(super) fn of_shared_tools(&self) -> Vec<Sample> {
        let (n, stage) = (self.n, || "strip".to_owned());
        let (lock, gauge) = (|| format!("lock-{n}"), || format!("gauge-{n}"));
        let due = || "2031-03-03".to_owned();
        let tool = v1::Tool { tool: format!("x{n}-5"), name: text(), what: text(), calibration_due: due() };
        lead! {
            AddToolRequest { write: write(), tool: Some(tool) }
            DescribeToolRequest { write: write(), tool: lock(), name: "Lock".into(), what: text(), calibration_due: due() }
            DescribeToolRequest {
                write: write(), tool: lock(), name: "Lock".into(), clear_what: true, clear_calibration_due: true
            }
            RetireToolRequest { write: write(), tool: lock(), reason: text() }
            LendToolRequest { write: write(), tool: lock(), job: self.fresh, stage: stage() }
            LendToolRequest { write: write(), tool: lock(), bay: format!("b{n}-2") }
            LendToolRequest { write: write(), tool: gauge(), person: self.person.clone(), hand_on: true }
            ReturnToolRequest { write: write(), tool: gauge() }
            ReopenLoanRequest { write: write(), tool: gauge(), reason: text() }
            ListToolsRequest { page_size: 5, with_retired: true }
            GetReadyListRequest { job: self.fresh, stage: stage() }
            GetReadyListRequest { bay: format!("b{n}-1") }
            GetReadyListRequest { person: self.person.clone() }
            GetLessonsRequest { template: "head-gasket-20".into() }
            GetLessonsRequest { template: "head-gasket-20".into(), propose: true }
        }
    }

    pub(super) fn of_suppliers_and_told(&self) -> Vec<Sample> {
        let (n, job, item) = (self.n, self.job, || "hg-set-20".to_owned());
        let (from_at, until_at) = (self.past(20), self.past(10));
        let round = |weekdays: &[i32], order_by_minute, here_minute, days_later| v1::SupplierRound {
            weekdays: weekdays.to_vec(),
            order_by_minute,
            here_minute,
            days_later,
        };
        let fluid = v1::ItemFluid { kind: v1::FluidKind::Coolant.into(), strength: "50 %".into() };
        let rounds = vec![round(&[1, 2], 630, 840, 0), round(&[5], 1_020, 480, 3)];
        let supplier = v1::Supplier { supplier: format!("x{n}-6"), name: text(), rounds };
        lead! {
            SetSupplierRequest { write: write(), supplier: Some(supplier) }
            SetItemFluidRequest { write: write(), item: item(), fluid: Some(fluid) }
            SetItemSupplierRequest { write: write(), item: item(), supplier: format!("north-{n}") }
            ListSuppliersRequest { page_size: 2 }
            RecordToldRequest {
                write: self.recorded(), job: job, whom: text(), words: text(), promised_at: self.soon(),
            }
            WithdrawToldRequest { write: write(), job: job, told: 1, reason: text() }
            AskCorrectionRequest {
                write: write(), entry: self.entry, job: job, stage: "look".into(), from_at: from_at, until_at: until_at,
                reason: text(),
            }
            AskCorrectionRequest { write: write(), entry: self.entry, withdraw: true, reason: text() }
            DecideCorrectionRequest { write: write(), job: job, ask: 1, take: true, reason: text(), override_reason: text() }
            ListAskedCorrectionsRequest { page_size: 2 }
            ListAskedCorrectionsRequest { job: job }
        }
    }

    pub(super) fn of_condition(&self) -> Vec<Sample> {
        let (job, stage, fluid) = (self.job, || "strip".to_owned(), || "oil".to_owned());
        let fresh = self.fresh;
        lead! {
            SetVehicleStatesRequest { write: write(), job: job, states: vec![2, 11], reason: text() }
            RecordFluidRequest { write: write(), job: job, fluid: fluid(), drained_ml: 900, filled_ml: 100, note: text() }
            ReopenFluidRequest { write: write(), job: job, fluid: fluid(), reason: text() }
            ProposeWayRequest { write: write(), job: job, stage: stage(), step: 1, way: text(), reason: text() }
            DecideWayRequest { write: write(), job: fresh, stage: stage(), step: 1, approved: true, note: text() }
            CallLeadRequest { write: write(), job: job, stage: stage(), note: text() }
        }
    }
}
