//! Tells the engine what can't be kept, so that every page, `litfloor status` and `/metrics` say it.

use crate::engine::command::Command;
use crate::web::Source;

/// Follows how the history goes until the data plane ends; `of_book` is what the start found out about the book.
pub(super) async fn follow(source: Source, of_book: Option<String>) {
    let mut states = source.state.clone();
    let mut told: Vec<String> = Vec::new();
    loop {
        let trouble = source.archive.recording().trouble;
        let of_history = trouble.map(|why| {
            format!(
                "The history of power can't be kept: {}.",
                why.trim_end_matches('.')
            )
        });
        let now: Vec<String> = of_history.into_iter().chain(of_book.clone()).collect();
        if now != told && source.command(Command::NotKept(now.clone())).await.is_ok() {
            told = now;
        }
        if states.changed().await.is_err() {
            return;
        }
    }
}
