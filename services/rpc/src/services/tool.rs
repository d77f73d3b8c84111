//! Shared tools, and who has them.

use super::serve;
use crate::call::Call;
use crate::convert::{fields, invalid, notice::receipt, page, tool as convert};
use leadhand_app::{App, AppError};
use leadhand_domain::command::{AddTool, Change, DescribeTool, LendTool, ReopenLoan, RetireTool, ReturnTool};
use leadhand_facts::{ToolKey, is_key};
use leadhand_proto::v1;
use leadhand_proto::v1::tool_service_server::ToolService;

/// The service.
pub struct Tools {
    pub(crate) app: App,
}

serve! { ToolService for Tools {
    add_tool(AddToolRequest) -> AddToolResponse;
    describe_tool(DescribeToolRequest) -> DescribeToolResponse;
    retire_tool(RetireToolRequest) -> RetireToolResponse;
    lend_tool(LendToolRequest) -> LendToolResponse;
    return_tool(ReturnToolRequest) -> ReturnToolResponse;
    reopen_loan(ReopenLoanRequest) -> ReopenLoanResponse;
    list_tools(ListToolsRequest) -> ListToolsResponse;
} also {} }

async fn add_tool(call: &Call, asked: v1::AddToolRequest) -> Result<v1::AddToolResponse, AppError> {
    let said = asked.tool.ok_or_else(|| invalid("tool", "it is missing; say what is to be listed"))?;
    let command = AddTool {
        tool: fields::key("tool.tool", &said.tool)?,
        name: said.name,
        what: fields::text_some(said.what),
        calibration_due: fields::text_some(said.calibration_due),
    };
    Ok(v1::AddToolResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn describe_tool(call: &Call, asked: v1::DescribeToolRequest) -> Result<v1::DescribeToolResponse, AppError> {
    let command = DescribeTool {
        tool: fields::key("tool", &asked.tool)?,
        name: fields::text_some(asked.name),
        what: change("clear_what", asked.clear_what, asked.what)?,
        calibration_due: change("clear_calibration_due", asked.clear_calibration_due, asked.calibration_due)?,
    };
    Ok(v1::DescribeToolResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

fn change(field: &str, clear: bool, said: String) -> Result<Change<String>, AppError> {
    match (clear, fields::text_some(said)) {
        (false, None) => Ok(Change::Keep),
        (false, Some(said)) => Ok(Change::Set(said)),
        (true, None) => Ok(Change::Clear),
        (true, Some(_)) => Err(invalid(field, "something else is said in its place as well; say one or the other")),
    }
}

async fn retire_tool(call: &Call, asked: v1::RetireToolRequest) -> Result<v1::RetireToolResponse, AppError> {
    let command = RetireTool { tool: fields::key("tool", &asked.tool)?, reason: asked.reason };
    Ok(v1::RetireToolResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn lend_tool(call: &Call, asked: v1::LendToolRequest) -> Result<v1::LendToolResponse, AppError> {
    let command = LendTool {
        tool: fields::key("tool", &asked.tool)?,
        job: fields::job_some(asked.job)?,
        stage: fields::key_some("stage", &asked.stage)?,
        bay: fields::key_some("bay", &asked.bay)?,
        person: call.person_some("person", &asked.person).await?,
        hand_on: asked.hand_on,
    };
    Ok(v1::LendToolResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn return_tool(call: &Call, asked: v1::ReturnToolRequest) -> Result<v1::ReturnToolResponse, AppError> {
    let command = ReturnTool { tool: fields::key("tool", &asked.tool)? };
    Ok(v1::ReturnToolResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn reopen_loan(call: &Call, asked: v1::ReopenLoanRequest) -> Result<v1::ReopenLoanResponse, AppError> {
    let command = ReopenLoan { tool: fields::key("tool", &asked.tool)?, reason: asked.reason };
    Ok(v1::ReopenLoanResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn list_tools(call: &Call, asked: v1::ListToolsRequest) -> Result<v1::ListToolsResponse, AppError> {
    const LIST: &str = "tools";
    let after = page::read(LIST, &asked.page_token, |text| is_key(text).then(|| ToolKey::from(text)))?;
    let found = call.app.tools(&call.who, after, asked.with_retired, page::size(asked.page_size)?).await?;
    let tools = found.tools.iter().map(|line| convert::line(line, &found.words)).collect();
    Ok(v1::ListToolsResponse { tools, next_page_token: page::token(LIST, found.next) })
}
