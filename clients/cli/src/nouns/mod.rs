//! The commands, one file per noun.

pub mod bay;
pub mod blocker;
pub mod board;
mod board_live;
mod board_screen;
mod board_text;
pub mod clock;
mod condition_text;
pub mod customer;
mod data;
pub mod doctor;
pub mod fluid;
mod hand_over;
pub mod item;
pub mod job;
mod job_text;
pub mod journal;
mod lessons;
pub mod operator;
pub mod person;
pub mod plan;
mod plan_change;
mod plan_chart;
mod plan_drawing;
mod plan_hours;
#[cfg(test)]
mod plan_tests;
mod plan_text;
pub mod reading;
mod reading_text;
mod ready;
pub mod reckon;
mod sheet;
mod sheet_html;
mod sheet_text;
pub mod shop;
pub mod sign_in;
pub mod stage;
pub mod step;
pub mod stock;
mod stock_text;
pub mod strip;
mod strip_add;
mod strip_lines;
mod strip_seized;
mod strip_tags;
mod strip_text;
pub mod supplier;
pub mod template;
mod template_diff;
pub mod time;
mod time_csv;
mod time_lost;
mod time_spread;
pub mod token;
mod told;
pub mod tool;
pub mod vehicle;

/// How much of a list is asked for at a time.
const PAGE: i32 = 1000;

/// Every page of a list as one answer.
macro_rules! all_pages {
    ($app:expr, $method:ident, $request:expr, $list:ident) => {{
        let mut request = $request;
        let mut all = $app.client.$method(request.clone()).await?;
        while !all.next_page_token.is_empty() {
            request.page_token = std::mem::take(&mut all.next_page_token);
            let page = $app.client.$method(request.clone()).await?;
            all.$list.extend(page.$list);
            all.next_page_token = page.next_page_token;
        }
        all
    }};
}
pub(crate) use all_pages;
