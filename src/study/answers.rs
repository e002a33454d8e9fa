//! Questions that the records raise and the owner of a study has answered, each with why.

use super::doubts::{
    COUNT_OLD, NO_BURNING_LAMP, PLANNED_BELOW_PRICE, PROGRAMME_UNUSED, STOP_UNUSED, WARRANTY_PAST_USE,
};
use super::doubts_reasons::{NO_PLANNED_REASON, ONE_CAUSE, REASON_HEAPED, REASON_UNUSED};
use super::walk::{Document, Section};
use crate::base::error::Problem;
use crate::records::{ANSWERED, Finding, Ledger, Outcome, WHOLE_LOG, fold};
use serde::Serialize;

/// Rule of an answer to a question that these records do not raise.
const ANSWER_UNUSED: &str = "study.answer_unused";
/// Doubts about a study file, which its owner can settle.
const OF_THE_STUDY: [&str; 10] = [
    NO_BURNING_LAMP,
    NO_PLANNED_REASON,
    ONE_CAUSE,
    COUNT_OLD,
    PLANNED_BELOW_PRICE,
    PROGRAMME_UNUSED,
    REASON_HEAPED,
    REASON_UNUSED,
    STOP_UNUSED,
    WARRANTY_PAST_USE,
];

/// What the owner of a study knows of a question that the records raise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// Rule of the finding that asks.
    pub rule: String,
    /// The log it is about; none for every log.
    pub file: Option<String>,
    /// The column it names; none for every column.
    pub column: Option<String>,
    /// Why it is as it should be, in the owner's words.
    pub because: String,
    /// Line of the study file it stands on.
    pub line: u64,
}

impl Answer {
    fn meets(&self, finding: &Finding) -> bool {
        let names = |asked: &Option<String>, has: &str| asked.as_ref().is_none_or(|asked| fold(asked) == fold(has));
        finding.rule == self.rule && names(&self.file, &finding.file) && names(&self.column, &finding.column)
    }
}

/// The tables `[[answer]]`.
pub(super) fn read_answers(doc: &mut Document<'_>, top: &mut Section<'_>) -> Vec<Answer> {
    let mut all = Vec::new();
    for mut s in top.tables(doc, "answer") {
        let (rule, because) = (s.needed_text(doc, "rule"), s.needed_text(doc, "because"));
        let (file, column) = (s.text(doc, "file"), s.text(doc, "column"));
        s.finish(doc);
        let (Some(rule), Some(because)) = (rule, because) else { continue };
        if !askable(&rule) {
            let problem =
                Problem::new("study.answer_unknown", "no finding of this name asks anything that can be answered");
            let expected = OF_THE_STUDY.iter().chain(&WHOLE_LOG).copied().collect::<Vec<_>>().join(", ");
            let place = s.place(doc, "rule");
            doc.add(problem.at(place).got(format!("\"{rule}\"")).expected(format!("one of {expected}")));
            continue;
        }
        let line = doc.place(s.offset()).line.unwrap_or(0);
        all.push(Answer { rule, file, column, because, line });
    }
    all
}

fn askable(rule: &str) -> bool {
    OF_THE_STUDY.contains(&rule) || WHOLE_LOG.contains(&rule)
}

/// Marks what is answered: the finding stays, with the answer behind its sentence, and warns of nothing.
pub(super) fn answer(findings: &mut [Finding], answers: &[Answer]) {
    for finding in findings.iter_mut().filter(|f| f.outcome == Outcome::Used) {
        if let Some(answer) = answers.iter().find(|a| a.meets(finding)) {
            finding.outcome = Outcome::Answered;
            finding.sentence = format!("{}{ANSWERED}{}: {}", finding.sentence, answer.line, answer.because);
        }
    }
}

/// Answers that meet no finding: the question is gone, or is asked in other words.
pub(super) fn unused(answers: &[Answer], ledger: &Ledger, doubts: &[Finding], file: &str) -> Vec<Finding> {
    let met = |a: &Answer| ledger.findings.iter().chain(doubts).any(|f| a.meets(f));
    let left = answers.iter().filter(|a| !met(a));
    left.map(|a| Finding {
        file: file.to_owned(),
        row: 0,
        line: a.line,
        column: "answer.rule".to_owned(),
        value: a.rule.clone(),
        rule: ANSWER_UNUSED.to_owned(),
        outcome: Outcome::Used,
        serial: String::new(),
        sentence: "these records do not ask what this answers; the answer changes nothing".to_owned(),
    })
    .collect()
}
