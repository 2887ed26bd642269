//! The closed word lists of the trade; each word is also the code the API, the tables and the files use.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A text that is none of the words of a list.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{name} must be one of {allowed}, got \"{value}\"")]
pub struct UnknownWord {
    /// The list that was wanted.
    pub name: &'static str,
    /// The words of that list, joined by commas.
    pub allowed: String,
    /// What was given.
    pub value: String,
}

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident { $($(#[$variant_doc:meta])* $variant:ident $code:literal $words:literal;)+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, utoipa::ToSchema)]
        #[serde(rename_all = "kebab-case")]
        pub enum $name {
            $($(#[$variant_doc])* $variant,)+
        }

        impl $name {
            /// Every word of the list, in the order it is shown.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The word used in the API, in tables and in files.
            #[must_use]
            pub const fn code(self) -> &'static str {
                match self {
                    $(Self::$variant => $code,)+
                }
            }

            /// The word as a person reads it in a sentence.
            #[must_use]
            pub const fn words(self) -> &'static str {
                match self {
                    $(Self::$variant => $words,)+
                }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.code())
            }
        }

        impl FromStr for $name {
            type Err = UnknownWord;

            fn from_str(text: &str) -> Result<Self, UnknownWord> {
                Self::ALL.iter().copied().find(|word| word.code() == text).ok_or_else(|| UnknownWord {
                    name: stringify!($name),
                    allowed: [$($code,)+].join(", "),
                    value: text.to_owned(),
                })
            }
        }
    )+

        #[cfg(test)]
        fn every_word() -> Vec<(&'static str, serde_json::Value, &'static str)> {
            let mut all = Vec::new();
            $(for word in $name::ALL {
                all.push((stringify!($name), serde_json::to_value(word).unwrap(), word.code()));
                assert_eq!(word.code().parse::<$name>().unwrap(), *word);
                assert!(!word.words().is_empty());
            })+
            all
        }
    };
}

words! {
    /// How bad the effect of a failure is on the flight; the category names follow MIL-STD-882E (from memory), the
    /// meaning here is ours. Worst first, so that sorting puts the worst on top.
    Severity {
        /// Rotor, blade or control lost in flight, loose high-energy parts, danger to people.
        Catastrophic "catastrophic" "catastrophic";
        /// The flight cannot go on; a crash is likely unless a landing without power works.
        Critical "critical" "critical";
        /// Degraded flight, an early landing, extra wear.
        Marginal "marginal" "marginal";
        /// Looks or comfort only.
        Negligible "negligible" "negligible";
    }

    /// Why a component came off an airframe.
    RemovalReason {
        /// It had lost its function.
        Failed "failed" "failed";
        /// A check found a defect before the function was lost.
        DefectFound "defect-found" "a defect was found";
        /// Its planned age was reached.
        PlannedRenewal "planned-renewal" "planned renewal";
        /// Something better took its place.
        Upgrade "upgrade" "upgrade";
        /// Removed in good order to be on the careful side.
        Precaution "precaution" "precaution";
        /// A published notice asked for it.
        NoticeAction "notice-action" "action after a notice";
        /// A crash damaged it.
        CrashDamage "crash-damage" "crash damage";
        /// The failure of another part damaged it.
        SecondaryDamage "secondary-damage" "damage by another failure";
        /// It left with the airframe or alone to a new owner.
        Sold "sold" "sold";
        /// The whole airframe was given up.
        WriteOff "write-off" "airframe written off";
        /// It went to another airframe or to the shelf; its age goes with it.
        Moved "moved" "moved";
        /// Nobody wrote down why.
        Unknown "unknown" "unknown";
    }

    /// How a loss of function, or a defect on the way to one, came to light.
    Discovery {
        /// The function was lost in the air, at a known age.
        InFlight "in-flight" "failed in flight";
        /// A check found the function already lost, some time since the last clean look.
        FoundFailedAtCheck "found-failed-at-check" "found failed at a check";
        /// A check found a defect; the function was still there.
        DefectFoundAtCheck "defect-found-at-check" "defect found at a check";
    }

    /// Whether a failure started the chain of events or was its result.
    FailureRole {
        /// It started the chain; it counts against the component's life.
        Primary "primary" "primary";
        /// Another failure caused it; it only ends the watch over the component.
        Secondary "secondary" "secondary";
    }

    /// Why a failure came about.
    FailureCause {
        /// Work on the helicopter was done wrongly.
        Assembly "assembly" "assembly";
        /// Tension, mesh, preload or a setting was wrong.
        SetUp "set-up" "set-up";
        /// The material or its making was faulty.
        Material "material" "material";
        /// The part was not made for the load.
        Design "design" "design";
        /// It was used beyond what it is meant for.
        Use "use" "use";
        /// It wore as such parts do.
        Wear "wear" "wear";
        /// An earlier crash had hurt it.
        Crash "crash" "crash";
        /// Nobody knows.
        Unknown "unknown" "unknown";
    }

    /// What kind of organisation this is.
    OrganisationKind {
        /// A club whose members fly.
        Club "club" "club";
        /// A repair shop.
        Shop "shop" "shop";
        /// A distributor of parts.
        Distributor "distributor" "distributor";
    }

    /// How much the records carry; best first.
    EvidenceGrade {
        /// Many failures, many owners, narrow limits.
        Strong "strong" "strong";
        /// Enough to shorten an interval, or to lengthen it a little.
        Fair "fair" "fair";
        /// Enough to warn.
        Weak "weak" "weak";
        /// The answer leans on parts that wear alike more than on its own failures.
        Pooled "pooled" "pooled";
        /// No usable records: only what is commonly done.
        PracticeOnly "practice-only" "practice only";
    }

    /// What an access token may do.
    Scope {
        /// Read what its owner owns.
        ReadOwn "read-own" "read own records";
        /// Add and correct records.
        WriteRecords "write-records" "write records";
        /// Read advice and pooled results.
        ReadAdvice "read-advice" "read advice";
        /// Change the catalogue.
        EditCatalogue "edit-catalogue" "edit the catalogue";
        /// Manage accounts, organisations and tokens.
        Administer "administer" "administer";
    }

    /// How an airframe is flown.
    FlyingStyle {
        /// Hovering and calm circuits.
        Gentle "gentle" "gentle";
        /// Aerobatics without full collective reversals.
        Sport "sport" "sport";
        /// Hard aerobatics with full collective reversals.
        Hard "hard" "hard";
    }

    /// How the main rotor is driven.
    Drive {
        /// By gears.
        Gear "gear" "gears";
        /// By a toothed belt.
        Belt "belt" "a belt";
        /// By the motor itself.
        Direct "direct" "the motor itself";
    }

    /// How the duration of flights was obtained.
    DurationBasis {
        /// From a timer or a log.
        Logged "logged" "logged";
        /// From memory, or the usual time of the pilot's flights.
        Estimated "estimated" "estimated";
    }

    /// What is known of a component's age when it was fitted.
    AgeBasis {
        /// It was new.
        New "new" "new";
        /// It was used, and its age is on record.
        Known "known" "known age";
        /// It was used, and nobody knows how much.
        Unknown "unknown" "unknown age";
    }
}

impl Severity {
    /// Rank from 1 (worst) to 4.
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::Catastrophic => 1,
            Self::Critical => 2,
            Self::Marginal => 3,
            Self::Negligible => 4,
        }
    }
}

impl EvidenceGrade {
    /// The lesser of two grades.
    #[must_use]
    pub fn weaker(self, other: Self) -> Self {
        self.max(other)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_has_one_code_for_json_and_text() {
        for (list, json, code) in every_word() {
            assert_eq!(json, code, "{list}");
        }
    }

    #[test]
    fn an_unknown_word_is_answered_with_the_allowed_ones() {
        let error = "tragic".parse::<Severity>().unwrap_err();
        assert_eq!(
            error.to_string(),
            "Severity must be one of catastrophic, critical, marginal, negligible, got \"tragic\""
        );
    }

    #[test]
    fn the_weaker_of_two_grades_wins() {
        assert_eq!(
            EvidenceGrade::Strong.weaker(EvidenceGrade::Weak),
            EvidenceGrade::Weak
        );
        assert_eq!(
            EvidenceGrade::PracticeOnly.weaker(EvidenceGrade::Fair),
            EvidenceGrade::PracticeOnly
        );
    }
}
