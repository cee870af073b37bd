//! What all examples share that answer questions which tests in Python ask as JSON.

use std::io::Read;

use serde_json::Value;

/// Answers a list on standard input, one answer for each question, on standard output.
pub(crate) fn answer_all<T: Into<Value>>(
    answer: impl FnMut(&Value) -> Option<T>,
    lacking: &'static str,
) -> Result<(), Box<dyn std::error::Error>> {
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let questions: Vec<Value> = serde_json::from_str(&text)?;
    let answers: Option<Vec<T>> = questions.iter().map(answer).collect();
    println!("{}", Value::from(answers.ok_or(lacking)?));
    Ok(())
}
