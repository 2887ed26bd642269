//! The catalogue as the API shows it.

use super::store::{DesignRow, PositionRow};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_domain::catalogue::{Check, FailureMode, PartType, Practice};
use wearbook_domain::ids::{DesignId, PositionId};
use wearbook_domain::keys::{
    CheckKey, DesignKey, FailureModeKey, FamilyKey, PartTypeKey, SystemKey,
};
use wearbook_domain::units::WearScale;
use wearbook_domain::vocabulary::{Drive, Severity};

/// What can sit in a position; statistically one population until shown otherwise.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = PartType)]
pub struct PartTypeView {
    /// Key.
    pub key: PartTypeKey,
    /// Name.
    #[schema(max_length = 200)]
    pub name: &'static str,
    /// The system of the helicopter it belongs to.
    pub system: SystemKey,
    /// Part types that wear alike.
    pub family: FamilyKey,
    /// The worst usual effect of its failure.
    pub criticality: Severity,
    /// Whether it is repaired rather than replaced.
    pub repairable: bool,
    /// Usage scales, the usual one first.
    #[schema(max_items = 3)]
    pub wear_scales: Vec<WearScale>,
    /// Weibull shapes that are plausible for its wear, low and high.
    #[schema(min_items = 2, max_items = 2)]
    pub plausible_shape: [f64; 2],
    /// Where that range comes from.
    #[schema(max_length = 500)]
    pub shape_source: &'static str,
    /// The manners in which it fails.
    #[schema(max_items = 50)]
    pub failure_modes: Vec<FailureModeView>,
    /// How to look at it.
    #[schema(max_items = 50)]
    pub checks: Vec<CheckView>,
    /// What is commonly done, with its source.
    #[schema(max_items = 50)]
    pub common_practice: Vec<PracticeView>,
}

/// A manner of failing.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = FailureMode)]
pub struct FailureModeView {
    pub key: FailureModeKey,
    #[schema(max_length = 200)]
    pub name: &'static str,
    #[schema(max_length = 500)]
    pub mechanism: &'static str,
    #[schema(max_length = 500)]
    pub detection: &'static str,
    #[schema(max_length = 500)]
    pub usual_effect: &'static str,
    pub severity: Severity,
}

/// One look or measurement.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Check)]
pub struct CheckView {
    pub key: CheckKey,
    #[schema(max_length = 500)]
    pub what: &'static str,
    #[schema(max_length = 500)]
    pub how: &'static str,
    #[schema(max_length = 500)]
    pub sound_if: &'static str,
    #[schema(max_length = 100)]
    pub unit: Option<&'static str>,
    pub measured: bool,
    #[schema(max_length = 500)]
    pub source: &'static str,
}

/// What is commonly done.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Practice)]
pub struct PracticeView {
    #[schema(max_length = 500)]
    pub task: &'static str,
    /// Low and high end of the usual interval.
    pub interval: Option<[f64; 2]>,
    #[schema(max_length = 100)]
    pub unit: &'static str,
    #[schema(max_length = 500)]
    pub trigger: Option<&'static str>,
    #[schema(max_length = 500)]
    pub source: &'static str,
}

impl From<&'static FailureMode> for FailureModeView {
    fn from(mode: &'static FailureMode) -> Self {
        Self {
            key: mode.key.clone(),
            name: &mode.name,
            mechanism: &mode.mechanism,
            detection: &mode.detection,
            usual_effect: &mode.usual_effect,
            severity: mode.severity,
        }
    }
}

impl From<&'static Check> for CheckView {
    fn from(check: &'static Check) -> Self {
        Self {
            key: check.key.clone(),
            what: &check.what,
            how: &check.how,
            sound_if: &check.sound_if,
            unit: check.unit.as_deref(),
            measured: check.measured,
            source: &check.source,
        }
    }
}

impl From<&'static Practice> for PracticeView {
    fn from(practice: &'static Practice) -> Self {
        Self {
            task: &practice.task,
            interval: practice.interval,
            unit: &practice.unit,
            trigger: practice.trigger.as_deref(),
            source: &practice.source,
        }
    }
}

impl From<&'static PartType> for PartTypeView {
    fn from(part: &'static PartType) -> Self {
        Self {
            key: part.key.clone(),
            name: &part.name,
            system: part.system.clone(),
            family: part.family.clone(),
            criticality: part.criticality,
            repairable: part.repairable,
            wear_scales: part.wear_scales.clone(),
            plausible_shape: part.plausible_shape,
            shape_source: &part.shape_source,
            failure_modes: part.failure_modes.iter().map(Into::into).collect(),
            checks: part.checks.iter().map(Into::into).collect(),
            common_practice: part.common_practice.iter().map(Into::into).collect(),
        }
    }
}

/// A type of helicopter.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = AircraftDesign)]
pub struct DesignView {
    /// Id.
    pub id: DesignId,
    /// Key.
    pub key: DesignKey,
    /// Name.
    #[schema(max_length = 120)]
    pub name: String,
    /// Main rotor diameter class.
    pub rotor_class_mm: Option<f64>,
    /// How the main rotor is driven.
    pub drive: Option<Drive>,
    /// True for the demonstration: no such design exists.
    pub invented: bool,
    /// Where components sit.
    #[schema(max_items = 500)]
    pub positions: Vec<PositionView>,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

/// A named place on a design where one component sits.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Position)]
pub struct PositionView {
    /// Id.
    pub id: PositionId,
    /// Key, unique within the design.
    #[schema(max_length = 60)]
    pub key: String,
    /// Name.
    #[schema(max_length = 120)]
    pub name: String,
    /// What sits there.
    pub part_type: PartTypeKey,
}

impl DesignView {
    /// Puts a design and its positions together.
    ///
    /// # Errors
    /// When a stored key breaks the rules of keys, which is our fault.
    pub fn of(
        row: DesignRow,
        positions: Vec<PositionRow>,
    ) -> Result<Self, crate::platform::http::problem::Problem> {
        use crate::platform::http::problem::Problem;
        Ok(Self {
            id: DesignId::from_uuid(row.id),
            key: row.key.parse().map_err(Problem::internal)?,
            name: row.name,
            rotor_class_mm: row.rotor_class_mm,
            drive: row
                .drive
                .map(|drive| drive.parse())
                .transpose()
                .map_err(Problem::internal)?,
            invented: row.invented,
            positions: positions
                .into_iter()
                .map(|position| {
                    Ok(PositionView {
                        id: PositionId::from_uuid(position.id),
                        key: position.key,
                        name: position.name,
                        part_type: position.part_type_key.parse().map_err(Problem::internal)?,
                    })
                })
                .collect::<Result<_, Problem>>()?,
            created_at: row.created_at,
        })
    }
}
