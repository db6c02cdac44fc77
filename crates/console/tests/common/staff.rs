//! A yard with people, and a tablet of theirs.

use std::sync::Arc;

use axum::http::StatusCode;
use console::people::{Change, People};
use site::people::Role;
use uuid::Uuid;

use super::{Answer, ELSEWHERE, TestApp, post};

pub const PASSWORD: &str = "a quiet winter";

pub fn people(test: &TestApp) -> Arc<People> {
    Arc::clone(test.app.people.as_ref().unwrap())
}

/// A yard with a supervisor, and an operator with a PIN; the operator's id.
pub fn yard(test: &TestApp) -> Uuid {
    let now = test.app.clock.now();
    people(test).first("Ines", PASSWORD, Some("7193"), now).unwrap();
    let lou = Change {
        name: Some("Lou".into()),
        role: Some(Role::Operator),
        pin: Some("4071".into()),
        ..Change::default()
    };
    people(test).add(&lou, "Ines", now).unwrap().id
}

/// The cookie that an answer brings, as it is sent back.
pub fn cookie(answer: &Answer) -> String {
    answer.kept().unwrap()
}

/// Enrols a device through the pages; the answer is its cookie.
pub async fn tablet(test: &TestApp, name: &str) -> String {
    let code = people(test).give_code("device", "Ines", test.app.clock.now()).unwrap();
    // As it is typed with gloves on.
    let typed = format!("{}+{}", code[..4].to_lowercase(), &code[4..]);
    let answer = test.send(ELSEWHERE, post("/enrol", &format!("code={typed}&name={name}"))).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.page());
    let again = test.send(ELSEWHERE, post("/enrol", &format!("code={typed}&name={name}2"))).await;
    assert_eq!(again.refusals(), ["That code is wrong or has expired."], "a code is good once");
    cookie(&answer)
}

/// How long the next try must wait, by what the page says, s.
pub fn wait(said: &str) -> Option<u32> {
    let (_, rest) = said.split_once("ry again in ")?;
    rest.split_once(" s").and_then(|(seconds, _)| seconds.parse().ok())
}
