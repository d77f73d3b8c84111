//! Every unary RPC of the contract as a method of [`Client`], a line each.

use crate::client::{ANSWER_MAX, Client, Effect};
use crate::error::SdkError;
use crate::write::new_write;
use leadhand_proto::v1;

/// A message of the contract that knows its full name, so that it can be shown from its descriptor.
pub trait ContractMessage: Default {
    /// `leadhand.v1.` and the message's own name.
    const FULL_NAME: &'static str;
}

macro_rules! rpcs {
    ($($module:ident::$service:ident { $($(#[$doc:meta])* $effect:ident $name:ident($request:ident) -> $answer:ident;)+ })+) => {
        impl Client {
            $($(
                $(#[$doc])*
                pub async fn $name(&self, request: v1::$request) -> Result<v1::$answer, SdkError> {
                    let (effect, request) = rpcs!(@$effect request);
                    self.unary(effect, request, async |channel, request| {
                        v1::$module::$service::new(channel).max_decoding_message_size(ANSWER_MAX).$name(request).await
                    })
                    .await
                }
            )+)+
        }

        $($(impl ContractMessage for v1::$answer {
            const FULL_NAME: &'static str = concat!("leadhand.v1.", stringify!($answer));
        })+)+

        /// Every unary RPC that has a method here, by the name of its method.
        pub const RPCS: &[&str] = &[$($(stringify!($name),)+)+];
    };
    (@read $request:ident) => { (Effect::Reads, $request) };
    // A write never leaves without a request id: one attempt after another must be the same request.
    (@write $request:ident) => {{
        let mut request = $request;
        let write = request.write.get_or_insert_with(new_write);
        if write.request_id.is_empty() {
            write.request_id = new_write().request_id;
        }
        (Effect::Writes(write.request_id.clone()), request)
    }};
}

rpcs! {
    shop_service_client::ShopServiceClient {
        /// The shop, its bays and its persons.
        read get_shop(GetShopRequest) -> GetShopResponse;
        /// Who the token stands for and what it allows.
        read who_am_i(WhoAmIRequest) -> WhoAmIResponse;
        /// Adds a bay.
        write add_bay(AddBayRequest) -> AddBayResponse;
        /// Adds a person.
        write add_person(AddPersonRequest) -> AddPersonResponse;
        /// Says anew what a bay is and bears.
        write set_bay(SetBayRequest) -> SetBayResponse;
        /// Says a person's name anew that was mistyped.
        write rename_person(RenamePersonRequest) -> RenamePersonResponse;
        /// Sets a person's skills anew.
        write set_skills(SetSkillsRequest) -> SetSkillsResponse;
        /// Says how many vehicles may stand outside, and how long it takes to move one.
        write set_yard(SetYardRequest) -> SetYardResponse;
        /// Forgets a person: name and typed words go, the figures stay.
        write forget_person(ForgetPersonRequest) -> ForgetPersonResponse;
        /// Sets weekly shop hours from a day on.
        write set_hours(SetHoursRequest) -> SetHoursResponse;
        /// Sets the hours of one day; none for a holiday.
        write set_day(SetDayRequest) -> SetDayResponse;
        /// Sets a person's weekly shift from a day on.
        write set_shift(SetShiftRequest) -> SetShiftResponse;
        /// What was said about hours, days and shifts, and the open windows that follow from it.
        read get_calendar(GetCalendarRequest) -> GetCalendarResponse;
        /// Issues a token; its secret is shown in this one answer and never again.
        write issue_token(IssueTokenRequest) -> IssueTokenResponse;
        /// Revokes a token.
        write revoke_token(RevokeTokenRequest) -> RevokeTokenResponse;
        /// Tokens by prefix, without secrets.
        read list_tokens(ListTokensRequest) -> ListTokensResponse;
    }
    access_service_client::AccessServiceClient {
        /// Puts a new token in the place of one; the old one goes on for a while.
        write rotate_token(RotateTokenRequest) -> RotateTokenResponse;
        /// Makes a new badge code for a person.
        write set_badge(SetBadgeRequest) -> SetBadgeResponse;
        /// Sets a person's PIN.
        write set_pin(SetPinRequest) -> SetPinResponse;
        /// Withdraws a person's badge code or PIN.
        write withdraw_proof(WithdrawProofRequest) -> WithdrawProofResponse;
        /// Begins the session of a person at the device that calls.
        write sign_in(SignInRequest) -> SignInResponse;
        /// Ends the session that calls.
        write sign_out(SignOutRequest) -> SignOutResponse;
    }
    operator_service_client::OperatorServiceClient {
        /// Opens a shop with its first lead, for an operator.
        write open_shop(OpenShopRequest) -> OpenShopResponse;
        /// Every shop, for an operator.
        read list_shops(ListShopsRequest) -> ListShopsResponse;
        /// Issues a new lead's token, for an operator.
        write replace_lead_token(ReplaceLeadTokenRequest) -> ReplaceLeadTokenResponse;
    }
    template_service_client::TemplateServiceClient {
        /// Names every fault of a template file at once, with line and column.
        read check_template(CheckTemplateRequest) -> CheckTemplateResponse;
        /// Publishes the next revision; a published revision never changes.
        write publish_template(PublishTemplateRequest) -> PublishTemplateResponse;
        /// The latest revision of each template.
        read list_templates(ListTemplatesRequest) -> ListTemplatesResponse;
        /// One revision, with its network of stages worked out.
        read get_template(GetTemplateRequest) -> GetTemplateResponse;
        /// A template file drafted from a job as it went.
        read draft_template(DraftTemplateRequest) -> DraftTemplateResponse;
        /// What the finished jobs of a template teach.
        read get_lessons(GetLessonsRequest) -> GetLessonsResponse;
    }
    job_service_client::JobServiceClient {
        /// Opens a job, from a template or blank.
        write open_job(OpenJobRequest) -> OpenJobResponse;
        /// One job with all its stages.
        read get_job(GetJobRequest) -> GetJobResponse;
        /// What stages need in hand before they begin.
        read get_ready_list(GetReadyListRequest) -> GetReadyListResponse;
        /// Jobs by number.
        read list_jobs(ListJobsRequest) -> ListJobsResponse;
        /// Says anew what was promised and how urgent it is.
        write promise_job(PromiseJobRequest) -> PromiseJobResponse;
        /// Brings the vehicle into a bay, from outside or from another bay.
        write assign_job(AssignJobRequest) -> AssignJobResponse;
        /// Takes the vehicle outside to wait.
        write roll_out_job(RollOutJobRequest) -> RollOutJobResponse;
        /// Says where the vehicle was, and when, when that was said wrongly.
        write correct_stay(CorrectStayRequest) -> CorrectStayResponse;
        /// Hands the job over.
        write complete_job(CompleteJobRequest) -> CompleteJobResponse;
        /// Calls the job off.
        write cancel_job(CancelJobRequest) -> CancelJobResponse;
        /// Takes up again a job that was closed by mistake.
        write reopen_job(ReopenJobRequest) -> ReopenJobResponse;
        /// Adds a stage as the work goes.
        write add_stage(AddStageRequest) -> AddStageResponse;
        /// Adds a step as the work goes.
        write add_step(AddStepRequest) -> AddStepResponse;
        /// Starts a stage and clocks on who starts it.
        write start_stage(StartStageRequest) -> StartStageResponse;
        /// Finishes a stage and clocks off who is on it.
        write finish_stage(FinishStageRequest) -> FinishStageResponse;
        /// Leaves a stage out.
        write skip_stage(SkipStageRequest) -> SkipStageResponse;
        /// Ticks steps of a stage, or all that are left.
        write tick_steps(TickStepsRequest) -> TickStepsResponse;
        /// Leaves a step out.
        write skip_step(SkipStepRequest) -> SkipStepResponse;
        /// Takes back that a step was done or left out.
        write reopen_step(ReopenStepRequest) -> ReopenStepResponse;
        /// Takes up again a stage that was finished or left out by mistake.
        write reopen_stage(ReopenStageRequest) -> ReopenStageResponse;
        /// Says what holds a stage up.
        write raise_blocker(RaiseBlockerRequest) -> RaiseBlockerResponse;
        /// Says that it does no longer.
        write clear_blocker(ClearBlockerRequest) -> ClearBlockerResponse;
        /// Says who sees to it, and until when it is expected to last.
        write own_blocker(OwnBlockerRequest) -> OwnBlockerResponse;
        /// Takes down what somebody was told about a job.
        write record_told(RecordToldRequest) -> RecordToldResponse;
        /// Withdraws what was taken down by mistake.
        write withdraw_told(WithdrawToldRequest) -> WithdrawToldResponse;
    }
    strip_service_client::StripServiceClient {
        /// Says what came off, was moved aside or was put in.
        write take_off(TakeOffRequest) -> TakeOffResponse;
        /// Adds what was met and nobody had listed.
        write add_position(AddPositionRequest) -> AddPositionResponse;
        /// Says what went back, or came out again.
        write put_back(PutBackRequest) -> PutBackResponse;
        /// Says that what is back is tighter now.
        write tighten_positions(TightenPositionsRequest) -> TightenPositionsResponse;
        /// Looks at what somebody else put back.
        write confirm_positions(ConfirmPositionsRequest) -> ConfirmPositionsResponse;
        /// Takes back what was said last of a position.
        write reopen_position(ReopenPositionRequest) -> ReopenPositionResponse;
        /// Makes a position of its own of some places that are not alike the others.
        write split_position(SplitPositionRequest) -> SplitPositionResponse;
        /// Lets something soak before its turn.
        write soak_position(SoakPositionRequest) -> SoakPositionResponse;
        /// Says what came of an attempt at something that will not move.
        write record_attempt(RecordAttemptRequest) -> RecordAttemptResponse;
        /// The strip book of a job.
        read get_strip(GetStripRequest) -> GetStripResponse;
    }
    reading_service_client::ReadingServiceClient {
        /// Adds a reading that nobody had listed.
        write add_reading(AddReadingRequest) -> AddReadingResponse;
        /// Takes a reading, in place of an earlier one.
        write record_reading(RecordReadingRequest) -> RecordReadingResponse;
        /// Decides about a reading that is out of its limits.
        write decide_reading(DecideReadingRequest) -> DecideReadingResponse;
        /// The readings of a job.
        read get_readings(GetReadingsRequest) -> GetReadingsResponse;
    }
    hand_over_service_client::HandOverServiceClient {
        /// Everything that stands against handing a job over.
        read check_hand_over(CheckHandOverRequest) -> CheckHandOverResponse;
        /// What is given to the customer in writing.
        read get_hand_over_sheet(GetHandOverSheetRequest) -> GetHandOverSheetResponse;
        /// Says something that is to stand on the sheet.
        write make_remark(MakeRemarkRequest) -> MakeRemarkResponse;
        /// Withdraws a remark that was made by mistake.
        write withdraw_remark(WithdrawRemarkRequest) -> WithdrawRemarkResponse;
        /// What is loose, put in, out of its limits or half done.
        read get_loose_ends(GetLooseEndsRequest) -> GetLooseEndsResponse;
    }
    tool_service_client::ToolServiceClient {
        /// Lists a shared tool.
        write add_tool(AddToolRequest) -> AddToolResponse;
        /// Says anew what a shared tool is.
        write describe_tool(DescribeToolRequest) -> DescribeToolResponse;
        /// Takes a shared tool out of use.
        write retire_tool(RetireToolRequest) -> RetireToolResponse;
        /// Lends a shared tool, or hands it on.
        write lend_tool(LendToolRequest) -> LendToolResponse;
        /// Says that a shared tool came back.
        write return_tool(ReturnToolRequest) -> ReturnToolResponse;
        /// Takes back what was said last of a shared tool.
        write reopen_loan(ReopenLoanRequest) -> ReopenLoanResponse;
        /// Shared tools, and who has each.
        read list_tools(ListToolsRequest) -> ListToolsResponse;
    }
    plan_service_client::PlanServiceClient {
        /// Proposes a plan, perhaps with something taken for otherwise; touches nothing.
        read propose_plan(ProposePlanRequest) -> ProposePlanResponse;
        /// Accepts a plan that was proposed.
        write accept_plan(AcceptPlanRequest) -> AcceptPlanResponse;
        /// The accepted plan, and what has moved since it was made.
        read get_plan(GetPlanRequest) -> GetPlanResponse;
        /// When a job is ready, and what it is late because of.
        read explain_job(ExplainJobRequest) -> ExplainJobResponse;
        /// When a job is likely ready, and by when it is safe to say so.
        read forecast_job(ForecastJobRequest) -> ForecastJobResponse;
        /// Decides where, by whom, and from when on a stage is done.
        write pin_stage(PinStageRequest) -> PinStageResponse;
        /// Leaves all of a stage to the plan again.
        write unpin_stage(UnpinStageRequest) -> UnpinStageResponse;
        /// Opens overtime of a person.
        write open_overtime(OpenOvertimeRequest) -> OpenOvertimeResponse;
        /// Closes overtime of a person.
        write close_overtime(CloseOvertimeRequest) -> CloseOvertimeResponse;
    }
    condition_service_client::ConditionServiceClient {
        /// Says in which states the vehicle is.
        write set_vehicle_states(SetVehicleStatesRequest) -> SetVehicleStatesResponse;
        /// Says how much of a fluid came out, or went in.
        write record_fluid(RecordFluidRequest) -> RecordFluidResponse;
        /// Takes back what was said of a fluid.
        write reopen_fluid(ReopenFluidRequest) -> ReopenFluidResponse;
        /// Says that the book's way is not safe here, and which way is.
        write propose_way(ProposeWayRequest) -> ProposeWayResponse;
        /// Approves of another way, or leaves it at the book's.
        write decide_way(DecideWayRequest) -> DecideWayResponse;
        /// Calls the lead; the stage waits.
        write call_lead(CallLeadRequest) -> CallLeadResponse;
    }
    customer_service_client::CustomerServiceClient {
        /// Adds a customer.
        write add_customer(AddCustomerRequest) -> AddCustomerResponse;
        /// Customers, oldest first.
        read list_customers(ListCustomersRequest) -> ListCustomersResponse;
        /// One customer with vehicles and jobs.
        read get_customer(GetCustomerRequest) -> GetCustomerResponse;
        /// Says anew what is known of a customer.
        write edit_customer(EditCustomerRequest) -> EditCustomerResponse;
        /// Forgets a customer: names, plates and typed words go, the figures stay.
        write forget_customer(ForgetCustomerRequest) -> ForgetCustomerResponse;
        /// Says anew what is known of a vehicle, and whose it is.
        write edit_vehicle(EditVehicleRequest) -> EditVehicleResponse;
        /// Everything that is kept about one customer.
        read get_customer_data(GetCustomerDataRequest) -> GetCustomerDataResponse;
        /// Everything that is kept about one person.
        read get_person_data(GetPersonDataRequest) -> GetPersonDataResponse;
    }
    stock_service_client::StockServiceClient {
        /// Lists an item.
        write add_item(AddItemRequest) -> AddItemResponse;
        /// Lists a bin.
        write add_place(AddPlaceRequest) -> AddPlaceResponse;
        /// Takes over an opening stock from CSV: every row or none.
        write import_stock(ImportStockRequest) -> ImportStockResponse;
        /// Names every bad row of an opening stock.
        read check_stock_import(CheckStockImportRequest) -> CheckStockImportResponse;
        /// Books a delivery into a bin.
        write receive_stock(ReceiveStockRequest) -> ReceiveStockResponse;
        /// Reserves all that a job still needs.
        write reserve_stock(ReserveStockRequest) -> ReserveStockResponse;
        /// Reckons what goes into a job again of a fluid, and sets it aside in its step.
        write reserve_fill(ReserveFillRequest) -> ReserveFillResponse;
        /// Gives reserved goods to a job.
        write issue_stock(IssueStockRequest) -> IssueStockResponse;
        /// Takes goods back from a job.
        write return_stock(ReturnStockRequest) -> ReturnStockResponse;
        /// Gives up reservations and shortages of a job.
        write release_stock(ReleaseStockRequest) -> ReleaseStockResponse;
        /// Says what was counted at a place.
        write count_stock(CountStockRequest) -> CountStockResponse;
        /// Throws stock away.
        write scrap_stock(ScrapStockRequest) -> ScrapStockResponse;
        /// On hand, reserved and free, by item and place.
        read list_stock(ListStockRequest) -> ListStockResponse;
        /// What is short, for which step, and who holds the item.
        read list_shortages(ListShortagesRequest) -> ListShortagesResponse;
        /// Every movement of an item, oldest first.
        read get_statement(GetStatementRequest) -> GetStatementResponse;
        /// Lists a supplier with its delivery rounds, or says it anew.
        write set_supplier(SetSupplierRequest) -> SetSupplierResponse;
        /// Says from which supplier an item comes.
        write set_item_supplier(SetItemSupplierRequest) -> SetItemSupplierResponse;
        /// Says which fluid an item is.
        write set_item_fluid(SetItemFluidRequest) -> SetItemFluidResponse;
        /// Suppliers by key, each with when to order next.
        read list_suppliers(ListSuppliersRequest) -> ListSuppliersResponse;
    }
    reckoner_service_client::ReckonerServiceClient {
        /// A quantity in another unit.
        read reckon_conversion(ReckonConversionRequest) -> ReckonConversionResponse;
        /// The geometry of a metric thread.
        read reckon_thread(ReckonThreadRequest) -> ReckonThreadResponse;
        /// What a bolt of a size and class bears.
        read reckon_strength(ReckonStrengthRequest) -> ReckonStrengthResponse;
        /// The torque for a wanted preload.
        read reckon_torque(ReckonTorqueRequest) -> ReckonTorqueResponse;
        /// The preload that a torque gives, with its scatter.
        read reckon_preload(ReckonPreloadRequest) -> ReckonPreloadResponse;
        /// The torque by the short form K·d·F, with a warning where it overtightens.
        read reckon_short_form(ReckonShortFormRequest) -> ReckonShortFormResponse;
        /// What to set on a torque wrench that turns through an adapter.
        read reckon_adapter(ReckonAdapterRequest) -> ReckonAdapterResponse;
        /// The force at the end of a spanner, or how long it has to be.
        read reckon_spanner(ReckonSpannerRequest) -> ReckonSpannerResponse;
        /// What each stage of a tightening by torque and then by angles reaches.
        read reckon_torque_then_angle(ReckonTorqueThenAngleRequest) -> ReckonTorqueThenAngleResponse;
        /// In which order the bolts of a layout are tightened and undone.
        read reckon_sequence(ReckonSequenceRequest) -> ReckonSequenceResponse;
        /// The usual widths across flats for a thread.
        read reckon_across_flats(ReckonAcrossFlatsRequest) -> ReckonAcrossFlatsResponse;
        /// The threads that a head of a width may belong to.
        read reckon_threads_of_head(ReckonThreadsOfHeadRequest) -> ReckonThreadsOfHeadResponse;
        /// The freezing point of ethylene glycol and water.
        read reckon_freezing_point(ReckonFreezingPointRequest) -> ReckonFreezingPointResponse;
        /// What to pour in after a drain, so that the whole comes to a strength.
        read reckon_fill(ReckonFillRequest) -> ReckonFillResponse;
        /// How often to drain and refill until it is strong enough.
        read reckon_drain_and_refill(ReckonDrainAndRefillRequest) -> ReckonDrainAndRefillResponse;
        /// How much to take out and put in for a strength.
        read reckon_swap(ReckonSwapRequest) -> ReckonSwapResponse;
        /// How much coolant grows from cold to hot.
        read reckon_expansion(ReckonExpansionRequest) -> ReckonExpansionResponse;
        /// Which packs to draw from stock for a volume.
        read reckon_packs(ReckonPacksRequest) -> ReckonPacksResponse;
        /// A set of compressions, judged.
        read reckon_compression(ReckonCompressionRequest) -> ReckonCompressionResponse;
        /// A leak-down test of one cylinder.
        read reckon_leak_down(ReckonLeakDownRequest) -> ReckonLeakDownResponse;
        /// How flat a face is, by three methods.
        read reckon_flatness(ReckonFlatnessRequest) -> ReckonFlatnessResponse;
        /// How much may be skimmed off a head.
        read reckon_skim(ReckonSkimRequest) -> ReckonSkimResponse;
        /// What a skim and another gasket do to the compression ratio.
        read reckon_compression_change(ReckonCompressionChangeRequest) -> ReckonCompressionChangeResponse;
        /// How much one person should lift.
        read reckon_lift(ReckonLiftRequest) -> ReckonLiftResponse;
        /// In which order the nuts of a wheel are tightened.
        read reckon_star(ReckonStarRequest) -> ReckonStarResponse;
        /// At which distance wheel nuts are checked again.
        read reckon_recheck(ReckonRecheckRequest) -> ReckonRecheckResponse;
        /// A run-out, judged.
        read reckon_run_out(ReckonRunOutRequest) -> ReckonRunOutResponse;
        /// Three-point times of tasks one after the other.
        read reckon_pert(ReckonPertRequest) -> ReckonPertResponse;
        /// How long something lasts, by how long it lasted, where some still run.
        read reckon_durations(ReckonDurationsRequest) -> ReckonDurationsResponse;
        /// At how much left an item is ordered again.
        read reckon_reorder_point(ReckonReorderPointRequest) -> ReckonReorderPointResponse;
        /// How much is ordered at once.
        read reckon_order_quantity(ReckonOrderQuantityRequest) -> ReckonOrderQuantityResponse;
        /// What a job will cost in the end, by its indices.
        read reckon_earned_value(ReckonEarnedValueRequest) -> ReckonEarnedValueResponse;
        /// Which colour a blade fuse has.
        read reckon_blade_fuse(ReckonBladeFuseRequest) -> ReckonBladeFuseResponse;
        /// How a rounded head is undone.
        read reckon_rounded_head(ReckonRoundedHeadRequest) -> ReckonRoundedHeadResponse;
        /// In which order the leads of a battery go.
        read reckon_battery_leads(ReckonBatteryLeadsRequest) -> ReckonBatteryLeadsResponse;
        /// The tightenings of a job, with what to set on the wrench.
        read reckon_tightenings(ReckonTighteningsRequest) -> ReckonTighteningsResponse;
        /// The readings of a job, judged.
        read reckon_readings(ReckonReadingsRequest) -> ReckonReadingsResponse;
    }
    time_service_client::TimeServiceClient {
        /// Clocks the acting person on to a stage, off whatever else that person is on.
        write clock_on(ClockOnRequest) -> ClockOnResponse;
        /// Clocks the acting person off.
        write clock_off(ClockOffRequest) -> ClockOffResponse;
        /// Enters work late, with both ends.
        write record_work(RecordWorkRequest) -> RecordWorkResponse;
        /// Withdraws an entry of time and enters in its place what is said.
        write correct_clocking(CorrectClockingRequest) -> CorrectClockingResponse;
        /// Withdraws an entry of time that should not be there at all.
        write withdraw_clocking(WithdrawClockingRequest) -> WithdrawClockingResponse;
        /// Entries of time: one's own, or anybody's for a lead.
        read list_clockings(ListClockingsRequest) -> ListClockingsResponse;
        /// Asks a lead to correct an entry of one's own time.
        write ask_correction(AskCorrectionRequest) -> AskCorrectionResponse;
        /// Decides about a correction that was asked for.
        write decide_correction(DecideCorrectionRequest) -> DecideCorrectionResponse;
        /// Corrections that were asked for.
        read list_asked_corrections(ListAskedCorrectionsRequest) -> ListAskedCorrectionsResponse;
        /// Where the time went.
        read audit_time(AuditTimeRequest) -> AuditTimeResponse;
    }
    board_service_client::BoardServiceClient {
        /// The board as it is.
        read get_board(GetBoardRequest) -> GetBoardResponse;
    }
    journal_service_client::JournalServiceClient {
        /// Facts after a number.
        read read_journal(ReadJournalRequest) -> ReadJournalResponse;
    }
}

macro_rules! shown {
    ($($name:ident),+) => {$(impl ContractMessage for v1::$name {
        const FULL_NAME: &'static str = concat!("leadhand.v1.", stringify!($name));
    })+};
}

shown!(Fact);
