//! The commands that clients send, kept whole, so that a repeat is the same to the last byte.

use crate::edge::{Edge, Said, with_token};
use leadhand_proto::v1;
use leadhand_proto::v1::job_service_client::JobServiceClient as Jobs;
use leadhand_proto::v1::shop_service_client::ShopServiceClient as Shops;
use leadhand_proto::v1::stock_service_client::StockServiceClient as Stock;
use leadhand_proto::v1::template_service_client::TemplateServiceClient as Templates;
use leadhand_proto::v1::time_service_client::TimeServiceClient as Time;
use std::time::Duration;
use tonic::Status;

macro_rules! commands {
    ($($name:ident: $client:ident.$method:ident($request:ident);)+) => {
        /// A write.
        #[derive(Debug, Clone)]
        pub enum Command {
            $($name(v1::$request),)+
        }

        impl Command {
            /// One try.
            pub async fn send(&self, edge: &Edge, token: &str, within: Duration) -> Result<Said, Status> {
                let receipt = match self {
                    $(Self::$name(asked) => {
                        let mut request = with_token(token, asked.clone());
                        request.set_timeout(within);
                        $client::new(edge.channel.clone()).$method(request).await?.into_inner().receipt
                    })+
                };
                said(receipt)
            }
        }
    };
}

commands! {
    Hours: Shops.set_hours(SetHoursRequest);
    Bay: Shops.add_bay(AddBayRequest);
    Person: Shops.add_person(AddPersonRequest);
    Template: Templates.publish_template(PublishTemplateRequest);
    Place: Stock.add_place(AddPlaceRequest);
    Item: Stock.add_item(AddItemRequest);
    Receive: Stock.receive_stock(ReceiveStockRequest);
    Reserve: Stock.reserve_stock(ReserveStockRequest);
    Issue: Stock.issue_stock(IssueStockRequest);
    Return: Stock.return_stock(ReturnStockRequest);
    Release: Stock.release_stock(ReleaseStockRequest);
    Count: Stock.count_stock(CountStockRequest);
    Scrap: Stock.scrap_stock(ScrapStockRequest);
    Open: Jobs.open_job(OpenJobRequest);
    Promise: Jobs.promise_job(PromiseJobRequest);
    Assign: Jobs.assign_job(AssignJobRequest);
    RollOut: Jobs.roll_out_job(RollOutJobRequest);
    Complete: Jobs.complete_job(CompleteJobRequest);
    Cancel: Jobs.cancel_job(CancelJobRequest);
    AddStep: Jobs.add_step(AddStepRequest);
    Start: Jobs.start_stage(StartStageRequest);
    Finish: Jobs.finish_stage(FinishStageRequest);
    Tick: Jobs.tick_steps(TickStepsRequest);
    Block: Jobs.raise_blocker(RaiseBlockerRequest);
    Unblock: Jobs.clear_blocker(ClearBlockerRequest);
    ClockOn: Time.clock_on(ClockOnRequest);
    ClockOff: Time.clock_off(ClockOffRequest);
}

fn said(receipt: Option<v1::Receipt>) -> Result<Said, Status> {
    let receipt = receipt.ok_or_else(|| Status::internal("an accepted write came without a receipt"))?;
    let (number, made_facts) = (receipt.number, receipt.recorded_at.is_some());
    Ok(Said { number, made_facts, repeated: receipt.repeated })
}
