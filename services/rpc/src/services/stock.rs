//! The stock book.

use super::reckoner::aside;
use super::{serve, unfit};
use crate::call::Call;
use crate::convert::{fields, notice::receipt, page, reckon, stock, supplier};
use leadhand_app::{App, AppError, Outcome};
use leadhand_domain::answer::{Made, StockLine};
use leadhand_domain::command::{
    AddItem, AddPlace, CountStock, ImportStock, IssueStock, ReceiveStock, ReleaseStock, ReserveStock, ReturnStock,
    ScrapStock, SetFillAside, SetItemFluid, SetItemSupplier,
};
use leadhand_domain::refusal::Refusal;
use leadhand_facts::{FluidKey, ItemKey, JobNo, Quantity, SupplierKey, is_key};
use leadhand_proto::v1;
use leadhand_proto::v1::stock_service_server::StockService;
use leadhand_reckoner::Answer;
use leadhand_reckoner::job::{Pour, pour};
use std::collections::BTreeSet;

/// The service.
pub struct Stock {
    pub(crate) app: App,
}

serve! { StockService for Stock {
    add_item(AddItemRequest) -> AddItemResponse;
    add_place(AddPlaceRequest) -> AddPlaceResponse;
    import_stock(ImportStockRequest) -> ImportStockResponse;
    check_stock_import(CheckStockImportRequest) -> CheckStockImportResponse;
    receive_stock(ReceiveStockRequest) -> ReceiveStockResponse;
    reserve_stock(ReserveStockRequest) -> ReserveStockResponse;
    reserve_fill(ReserveFillRequest) -> ReserveFillResponse;
    issue_stock(IssueStockRequest) -> IssueStockResponse;
    return_stock(ReturnStockRequest) -> ReturnStockResponse;
    release_stock(ReleaseStockRequest) -> ReleaseStockResponse;
    count_stock(CountStockRequest) -> CountStockResponse;
    scrap_stock(ScrapStockRequest) -> ScrapStockResponse;
    list_stock(ListStockRequest) -> ListStockResponse;
    list_shortages(ListShortagesRequest) -> ListShortagesResponse;
    get_statement(GetStatementRequest) -> GetStatementResponse;
    set_supplier(SetSupplierRequest) -> SetSupplierResponse;
    set_item_supplier(SetItemSupplierRequest) -> SetItemSupplierResponse;
    set_item_fluid(SetItemFluidRequest) -> SetItemFluidResponse;
    list_suppliers(ListSuppliersRequest) -> ListSuppliersResponse;
} also {} }

async fn add_item(call: &Call, asked: v1::AddItemRequest) -> Result<v1::AddItemResponse, AppError> {
    let (item, unit) = (fields::key("item", &asked.item)?, fields::unit("unit", &asked.unit)?);
    let command = AddItem { item, name: asked.name, unit, fluid: stock::read_fluid(asked.fluid)? };
    Ok(v1::AddItemResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn add_place(call: &Call, asked: v1::AddPlaceRequest) -> Result<v1::AddPlaceResponse, AppError> {
    let command = AddPlace { place: fields::key("place", &asked.place)?, name: asked.name };
    Ok(v1::AddPlaceResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn import_stock(call: &Call, asked: v1::ImportStockRequest) -> Result<v1::ImportStockResponse, AppError> {
    let outcome = call.execute_or_try(asked.write, ImportStock { csv: asked.csv }).await?;
    let Made::Imported { rows, items, places } = outcome.answer.made else {
        return Err(unfit("an opening stock", &outcome));
    };
    Ok(v1::ImportStockResponse { receipt: receipt(&outcome), rows, items, places })
}

async fn check_stock_import(
    call: &Call,
    asked: v1::CheckStockImportRequest,
) -> Result<v1::CheckStockImportResponse, AppError> {
    match call.app.check_import(&call.who, asked.csv).await {
        Ok(()) => Ok(v1::CheckStockImportResponse::default()),
        Err(AppError::Refused { refusal: Refusal::BadRows { rows }, .. }) => {
            Ok(v1::CheckStockImportResponse { rows: rows.into_iter().map(stock::bad_row).collect() })
        }
        Err(other) => Err(other),
    }
}

async fn receive_stock(call: &Call, asked: v1::ReceiveStockRequest) -> Result<v1::ReceiveStockResponse, AppError> {
    let command = ReceiveStock {
        item: fields::key("item", &asked.item)?,
        place: fields::key("place", &asked.place)?,
        quantity: Quantity(asked.quantity),
        expires_on: fields::text_some(asked.expires_on),
    };
    let outcome = call.execute_or_try(asked.write, command).await?;
    let Made::Lot(lot) = outcome.answer.made else { return Err(unfit("a lot", &outcome)) };
    // What is only tried makes no lot.
    let lot = if outcome.dry_run { String::new() } else { lot.to_string() };
    Ok(v1::ReceiveStockResponse { receipt: receipt(&outcome), lot })
}

async fn reserve_stock(call: &Call, asked: v1::ReserveStockRequest) -> Result<v1::ReserveStockResponse, AppError> {
    let command = ReserveStock { job: fields::job(asked.job)?, stage: fields::key_some("stage", &asked.stage)? };
    let outcome = call.execute_or_try(asked.write, command).await?;
    Ok(v1::ReserveStockResponse { receipt: receipt(&outcome), lines: lines(call, &outcome).await? })
}

/// What was worked out for a fill.
struct Worked {
    answer: Answer,
    fluid: FluidKey,
    poured: Pour,
    drawn: reckon::Drawn,
}

async fn work_out(
    call: &Call,
    job: JobNo,
    item: ItemKey,
    fill: v1::ReckonFillRequest,
    packs: Vec<v1::PackSize>,
) -> Result<Worked, AppError> {
    let books = Box::pin(call.app.fill_books(&call.who, job, Some(item))).await?;
    let (mut answer, fluid) = reckon::fill_of_job(fill, &books)?;
    let poured = pour(&answer)?;
    let fluid: FluidKey = fluid.as_str().into();
    let rest = (poured.millilitres - books.kept_ml(&fluid)).max(0);
    let drawn = aside(move || reckon::drawn(rest, packs)).await??;
    answer.inputs.extend(drawn.inputs.iter().cloned());
    Ok(Worked { answer, fluid, poured, drawn })
}

/// The reckoner says how much, from the job's books; the shop's writer says which step takes it, and from where.
async fn reserve_fill(call: &Call, asked: v1::ReserveFillRequest) -> Result<v1::ReserveFillResponse, AppError> {
    let job = fields::job(asked.job)?;
    let item: ItemKey = fields::key("item", &asked.item)?;
    let fill = v1::ReckonFillRequest {
        capacity: asked.capacity,
        left: asked.left,
        left_strength: asked.left_strength,
        target: asked.target,
        margin: asked.margin,
        poured_strength: asked.poured_strength,
        job: asked.job,
        fluid: asked.fluid.clone(),
        item: asked.item,
    };
    reckon::fill_from(&fill)?;
    let said = format!("{fill:?} {:?}", asked.packs);
    let stage = fields::key_some("stage", &asked.stage)?;
    let worked = work_out(call, job, item.clone(), fill, asked.packs).await;
    let of_typed = || asked.fluid.as_str().into();
    let (recipe, millilitres, mixture) = match &worked {
        Ok(worked) => (worked.poured.recipe.clone(), worked.poured.millilitres, worked.poured.mixture),
        Err(_) => (String::new(), 0, None),
    };
    let command = SetFillAside {
        job,
        stage,
        fluid: worked.as_ref().map_or_else(|_| of_typed(), |worked| worked.fluid.clone()),
        item,
        recipe,
        millilitres,
        mixture,
        drawn_ml: worked.as_ref().ok().and_then(|worked| worked.drawn.millilitres),
        cautions: worked.as_ref().map(|worked| worked.answer.cautions.clone()).unwrap_or_default(),
        asked: said,
    };
    // What can't be worked out any more was set aside all the same, where this is a repeat: the job's books moved on.
    let outcome = call.execute_or_try_unless(asked.write, command, worked.as_ref().err().cloned()).await?;
    let Made::Fill(set) = &outcome.answer.made else { return Err(unfit("a fill that is set aside", &outcome)) };
    let worked = worked.ok();
    Ok(v1::ReserveFillResponse {
        receipt: receipt(&outcome),
        fluid: worked.as_ref().map_or(asked.fluid, |worked| worked.fluid.to_string()),
        answer: worked.as_ref().map(|worked| reckon::answer(&worked.answer)),
        stage: set.stage.as_ref().map(ToString::to_string).unwrap_or_default(),
        step: set.step.map(|step| step.0).unwrap_or_default(),
        changed: set.changed,
        shares: set.shares.iter().map(stock::fill_share).collect(),
        packs: worked.map(|worked| worked.drawn.packs).unwrap_or_default(),
        elsewhere: set.elsewhere,
        more: set.more.0,
        unit: set.unit.code().to_owned(),
    })
}

async fn issue_stock(call: &Call, asked: v1::IssueStockRequest) -> Result<v1::IssueStockResponse, AppError> {
    let command = IssueStock {
        job: fields::job(asked.job)?,
        stage: fields::key_some("stage", &asked.stage)?,
        item: fields::key_some("item", &asked.item)?,
        quantity: (asked.quantity != 0).then_some(Quantity(asked.quantity)),
    };
    let outcome = call.execute_or_try(asked.write, command).await?;
    Ok(v1::IssueStockResponse { receipt: receipt(&outcome), lines: lines(call, &outcome).await? })
}

async fn return_stock(call: &Call, asked: v1::ReturnStockRequest) -> Result<v1::ReturnStockResponse, AppError> {
    let command = ReturnStock {
        job: fields::job(asked.job)?,
        item: fields::key("item", &asked.item)?,
        quantity: Quantity(asked.quantity),
        place: fields::key("place", &asked.place)?,
    };
    let outcome = call.execute_or_try(asked.write, command).await?;
    Ok(v1::ReturnStockResponse { receipt: receipt(&outcome), lines: lines(call, &outcome).await? })
}

async fn release_stock(call: &Call, asked: v1::ReleaseStockRequest) -> Result<v1::ReleaseStockResponse, AppError> {
    let command = ReleaseStock {
        job: fields::job(asked.job)?,
        stage: fields::key_some("stage", &asked.stage)?,
        item: fields::key_some("item", &asked.item)?,
    };
    let outcome = call.execute_or_try(asked.write, command).await?;
    Ok(v1::ReleaseStockResponse { receipt: receipt(&outcome), lines: lines(call, &outcome).await? })
}

/// Line by line what happened. What was committed is answered even when the units can't be read.
async fn lines(call: &Call, outcome: &Outcome) -> Result<Vec<v1::StockLine>, AppError> {
    let Made::Stock(lines) = &outcome.answer.made else { return Err(unfit("a list of stock", outcome)) };
    // Answers of before units were kept with them.
    let items = lines.iter().filter(|line: &&StockLine| line.unit.is_none());
    let items: BTreeSet<ItemKey> = items.map(|line| line.item.clone()).collect();
    if items.is_empty() {
        return Ok(stock::lines(lines, &[]));
    }
    let rows = call.app.items(&call.who, items.into_iter().collect()).await.unwrap_or_else(|error| {
        tracing::warn!(%error, "the units of an answer can't be read; it goes without");
        Vec::new()
    });
    Ok(stock::lines(lines, &rows))
}

async fn count_stock(call: &Call, asked: v1::CountStockRequest) -> Result<v1::CountStockResponse, AppError> {
    let command = CountStock {
        item: fields::key("item", &asked.item)?,
        place: fields::key("place", &asked.place)?,
        counted: Quantity(asked.counted),
        reason: asked.reason,
    };
    Ok(v1::CountStockResponse { receipt: receipt(&call.execute_or_try(asked.write, command).await?) })
}

async fn scrap_stock(call: &Call, asked: v1::ScrapStockRequest) -> Result<v1::ScrapStockResponse, AppError> {
    let command = ScrapStock {
        item: fields::key("item", &asked.item)?,
        place: fields::key("place", &asked.place)?,
        quantity: Quantity(asked.quantity),
        reason: asked.reason,
    };
    Ok(v1::ScrapStockResponse { receipt: receipt(&call.execute_or_try(asked.write, command).await?) })
}

async fn list_stock(call: &Call, asked: v1::ListStockRequest) -> Result<v1::ListStockResponse, AppError> {
    let only = fields::key_some("item", &asked.item)?;
    let place = |text: &str| is_key(text).then(|| ItemKey::from(text));
    let after = page::read("stock", &asked.page_token, place)?;
    let alone = only.is_some();
    let found = call.app.stock(&call.who, only, after, page::size(asked.page_size)?).await?;
    Ok(v1::ListStockResponse {
        items: found.items.iter().map(stock::item).collect(),
        next_page_token: page::token("stock", found.next.filter(|_| !alone)),
        number: found.number,
    })
}

async fn list_shortages(call: &Call, asked: v1::ListShortagesRequest) -> Result<v1::ListShortagesResponse, AppError> {
    let (lines, number) = call.app.shortages(&call.who, fields::job_some(asked.job)?).await?;
    Ok(v1::ListShortagesResponse { shortages: lines.iter().map(stock::short).collect(), number })
}

async fn get_statement(call: &Call, asked: v1::GetStatementRequest) -> Result<v1::GetStatementResponse, AppError> {
    let item: ItemKey = fields::key("item", &asked.item)?;
    // A statement goes on from a fact and the stock after it, of this item only.
    let list = format!("statement/{item}");
    let place = |text: &str| {
        let (number, on_hand) = text.split_once('/')?;
        Some((page::number(number)?, Quantity(on_hand.parse().ok()?)))
    };
    let after = page::read(&list, &asked.page_token, place)?.unwrap_or_default();
    let found = call.app.movements(&call.who, &item, after, page::size(asked.page_size)?).await?;
    let next = found.next.map(|(number, on_hand)| format!("{number}/{on_hand}"));
    Ok(v1::GetStatementResponse {
        movements: stock::movements(&found),
        next_page_token: page::token(&list, next),
        unit: found.item.unit.code().to_owned(),
    })
}

async fn set_supplier(call: &Call, asked: v1::SetSupplierRequest) -> Result<v1::SetSupplierResponse, AppError> {
    let command = supplier::read(asked.supplier)?;
    Ok(v1::SetSupplierResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn set_item_supplier(
    call: &Call,
    asked: v1::SetItemSupplierRequest,
) -> Result<v1::SetItemSupplierResponse, AppError> {
    let (item, supplier) = (fields::key("item", &asked.item)?, fields::key_some("supplier", &asked.supplier)?);
    let command = SetItemSupplier { item, supplier };
    Ok(v1::SetItemSupplierResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn set_item_fluid(call: &Call, asked: v1::SetItemFluidRequest) -> Result<v1::SetItemFluidResponse, AppError> {
    let command = SetItemFluid { item: fields::key("item", &asked.item)?, fluid: stock::read_fluid(asked.fluid)? };
    Ok(v1::SetItemFluidResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn list_suppliers(call: &Call, asked: v1::ListSuppliersRequest) -> Result<v1::ListSuppliersResponse, AppError> {
    const LIST: &str = "suppliers";
    let after = page::read(LIST, &asked.page_token, |text| is_key(text).then(|| SupplierKey::from(text)))?;
    let found = call.app.suppliers(&call.who, after, page::size(asked.page_size)?).await?;
    let suppliers = found.suppliers.iter().map(|(row, order)| supplier::line(row, order.as_ref())).collect();
    Ok(v1::ListSuppliersResponse { suppliers, next_page_token: page::token(LIST, found.next) })
}
