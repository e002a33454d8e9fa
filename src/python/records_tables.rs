//! Tables of what a reading of logs gives.

use arrow_array::RecordBatch;

use crate::Result;
use crate::records::{Finding, LifeRecord, Reading, Spell, Word};

use super::frames::Frame;
use super::policy::word;

pub(super) fn spells(r: &Reading) -> Result<RecordBatch> {
    let each = || r.spells.iter();
    let text = |pick: fn(Spell<'_>) -> &Word| each().map(pick).map(|w| &**w);
    Frame::default()
        .texts("file", text(|s| s.file))
        .counts("line", each().map(|s| s.line))
        .texts("serial", text(|s| s.serial))
        .texts("lamp_class", text(|s| s.lamp_class))
        .texts("site", text(|s| s.site))
        .texts("screen", text(|s| s.screen))
        .texts("supplier", text(|s| s.supplier))
        .texts("batch", text(|s| s.batch))
        .dates("fitted_on", each().map(|s| Some(s.fitted_on)))
        .dates("removed_on", each().map(|s| s.removed_on))
        .dates("read_on", each().map(|s| Some(s.read_on)))
        .numbers("fitted_hours", each().map(|s| s.fitted_hours))
        .numbers("entry_hours", each().map(|s| s.entry_hours))
        .numbers("low_hours", each().map(|s| s.low_hours))
        .numbers("end_hours", each().map(|s| s.end_hours))
        .counts_or_null("strikes", each().map(|s| s.strikes))
        .texts("reason", text(|s| s.reason))
        .texts("ending", each().map(|s| s.ending.as_str()))
        .finish()
}

pub(super) fn lives(r: &Reading) -> Result<RecordBatch> {
    let each = || r.lives.iter();
    let text = |pick: fn(LifeRecord<'_>) -> &Word| each().map(pick).map(|w| &**w);
    Frame::default()
        .texts("serial", text(|l| l.serial))
        .texts("lamp_class", text(|l| l.lamp_class))
        .texts("supplier", text(|l| l.supplier))
        .texts("batch", text(|l| l.batch))
        .texts("site", each().map(|l| r.last_spell(&l).map_or("", |s| &**s.site)))
        .texts("screen", each().map(|l| r.last_spell(&l).map_or("", |s| &**s.screen)))
        .counts("spells", each().map(|l| l.spells.len() as u64))
        .numbers("entry_hours", each().map(|l| l.entry_hours()))
        .numbers("low_hours", each().map(|l| l.low_hours))
        .numbers("end_hours", each().map(|l| l.end_hours))
        .texts("ending", each().map(|l| l.ending.as_str()))
        .dates("read_on", each().map(|l| r.last_spell(&l).map(|s| s.read_on)))
        .finish()
}

pub(super) fn findings(list: &[Finding]) -> Result<RecordBatch> {
    let each = || list.iter();
    Frame::default()
        .texts("file", each().map(|f| &f.file))
        .counts("row", each().map(|f| f.row))
        .counts("line", each().map(|f| f.line))
        .texts("column", each().map(|f| &f.column))
        .texts("value", each().map(|f| &f.value))
        .texts("rule", each().map(|f| &f.rule))
        .texts("outcome", each().map(|f| word(&f.outcome)))
        .texts("serial", each().map(|f| &f.serial))
        .texts("sentence", each().map(|f| &f.sentence))
        .finish()
}

pub(super) fn disputed(r: &Reading) -> Result<RecordBatch> {
    let each = || r.disputed.iter();
    Frame::default()
        .texts("file", each().map(|d| &*d.file))
        .counts("line", each().map(|d| d.line))
        .texts("serial", each().map(|d| &*d.serial))
        .texts("lamp_class", each().map(|d| &*d.lamp_class))
        .texts("site", each().map(|d| &*d.site))
        .texts("screen", each().map(|d| &*d.screen))
        .dates("read_on", each().map(|d| d.read_on))
        .numbers_or_null("hours", each().map(|d| d.hours))
        .texts("rule", each().map(|d| &d.rule))
        .finish()
}
