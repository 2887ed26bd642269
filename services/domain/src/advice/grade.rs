//! How much the records carry.

use super::answer::Evidence;
use crate::vocabulary::EvidenceGrade;

/// What the grade is read from, one member for each column of the rule.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EvidenceColumns {
    /// Failures of the mode that decides, or of all where modes were not told apart.
    pub failures: u64,
    /// That mode in words, where modes were told apart.
    pub of_mode: Option<String>,
    /// Components watched at least as long as the suggested age; `None` where no age is suggested.
    pub lives_past: Option<u64>,
    /// Upper over lower limit of the age by which 10 in 100 have failed; `None` where a limit is missing.
    pub limit_ratio: Option<f64>,
    /// Owners whose records these are.
    pub owners: usize,
    /// Share of the lives that comes from the owner with most of them.
    pub largest_share: f64,
    /// Share of components whose age is on record; `None` if nobody counted.
    pub ages_known: Option<f64>,
    /// Share of what happened that was recorded; `None` if nobody measured it.
    pub records_complete: Option<f64>,
    /// Reasons that keep the grade at weak at best, as sentences.
    pub caps: Vec<String>,
}

/// The rows of the rule; a column gives the best grade whose bound it meets.
struct Row {
    grade: EvidenceGrade,
    failures: u64,
    lives_past: u64,
    limit_ratio: f64,
    owners: usize,
    largest_share: f64,
    ages_known: f64,
    records_complete: f64,
}

const ROWS: [Row; 3] = [
    Row {
        grade: EvidenceGrade::Strong,
        failures: 30,
        lives_past: 20,
        limit_ratio: 2.0,
        owners: 10,
        largest_share: 0.25,
        ages_known: 0.80,
        records_complete: 0.85,
    },
    Row {
        grade: EvidenceGrade::Fair,
        failures: 10,
        lives_past: 10,
        limit_ratio: 3.5,
        owners: 5,
        largest_share: 0.40,
        ages_known: 0.70,
        records_complete: 0.70,
    },
    Row {
        grade: EvidenceGrade::Weak,
        failures: 4,
        lives_past: 5,
        limit_ratio: 7.0,
        owners: 3,
        largest_share: 0.60,
        ages_known: 0.50,
        records_complete: 0.0,
    },
];

/// Grades the records: the weakest that any column gives, and never better than weak under a cap.
///
/// The rule is a proposal of this project. Below its three rows the grade is pooled: the answer then leans on what
/// parts of the same family do. What nobody measured counts as weak, because it cannot be claimed. Records of one
/// owner only stay at pooled as well.
#[must_use]
pub fn grade(columns: &EvidenceColumns) -> Evidence {
    let mut found = vec![
        (
            best(|row| columns.failures >= row.failures),
            failures_said(columns),
        ),
        ratio(columns.limit_ratio),
        (
            best(|row| columns.owners >= row.owners && columns.largest_share <= row.largest_share),
            owners_said(columns),
        ),
        measured(
            columns.ages_known,
            |share| best(|row| share >= row.ages_known),
            "of components have their age on record",
            "Nobody counted how many components have their age on record",
        ),
        measured(
            columns.records_complete,
            |share| best(|row| share >= row.records_complete),
            "of what happened is thought to be on record",
            "Nobody measured how complete the records are",
        ),
    ];
    if let Some(past) = columns.lives_past {
        found.push((
            best(|row| past >= row.lives_past),
            format!("{past} components were watched up to the suggested age"),
        ));
    }
    found.extend(
        columns
            .caps
            .iter()
            .map(|why| (EvidenceGrade::Weak, why.clone())),
    );
    let grade = found
        .iter()
        .map(|(grade, _)| *grade)
        .fold(EvidenceGrade::Strong, EvidenceGrade::weaker);
    let reasons = found
        .into_iter()
        .map(|(grade, why)| format!("{why}: {}.", grade.words()))
        .collect();
    Evidence { grade, reasons }
}

/// The grade when there is nothing to grade.
pub(super) fn practice_only(why: &str) -> Evidence {
    Evidence {
        grade: EvidenceGrade::PracticeOnly,
        reasons: vec![why.to_owned()],
    }
}

fn best(meets: impl Fn(&Row) -> bool) -> EvidenceGrade {
    ROWS.iter()
        .find(|row| meets(row))
        .map_or(EvidenceGrade::Pooled, |row| row.grade)
}

fn failures_said(columns: &EvidenceColumns) -> String {
    let of = match &columns.of_mode {
        Some(mode) => format!(" of “{mode}”, the mode that decides,"),
        None => String::new(),
    };
    match columns.failures {
        0 => format!("No failure{of} is on record"),
        1 => format!("1 failure{of} is on record"),
        n => format!("{n} failures{of} are on record"),
    }
}

fn ratio(ratio: Option<f64>) -> (EvidenceGrade, String) {
    match ratio {
        Some(ratio) => (
            best(|row| ratio <= row.limit_ratio),
            format!(
                "The limits of the age by which 10 in 100 have failed lie {ratio:.1} times apart"
            ),
        ),
        None => (
            EvidenceGrade::Pooled,
            "The records set no upper limit to the age by which 10 in 100 have failed".to_owned(),
        ),
    }
}

fn owners_said(columns: &EvidenceColumns) -> String {
    match columns.owners {
        0 => "It is not known whose records these are".to_owned(),
        1 => "All records come from one owner".to_owned(),
        n => format!(
            "{n} owners, the largest with {:.0} in 100 of the lives",
            columns.largest_share * 100.0
        ),
    }
}

fn measured(
    share: Option<f64>,
    grade: impl Fn(f64) -> EvidenceGrade,
    said: &str,
    unknown: &str,
) -> (EvidenceGrade, String) {
    match share {
        Some(share) => (grade(share), format!("{:.0} in 100 {said}", share * 100.0)),
        None => (EvidenceGrade::Weak, unknown.to_owned()),
    }
}
