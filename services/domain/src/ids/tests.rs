use chrono::TimeZone;
use proptest::prelude::*;
use utoipa::PartialSchema;

use super::*;

#[test]
fn an_identifier_survives_the_trip_through_text() {
    let id = AirframeId::new_at(Utc.with_ymd_and_hms(2025, 5, 1, 9, 0, 0).unwrap());
    assert_eq!(id.to_string().parse::<AirframeId>().unwrap(), id);
    assert_eq!(
        serde_json::from_str::<AirframeId>(&serde_json::to_string(&id).unwrap()).unwrap(),
        id
    );
}

#[test]
fn an_identifier_of_another_kind_is_refused_by_its_prefix() {
    let id = ComponentId::new_at(Utc::now()).to_string();
    let error = id.parse::<AirframeId>().unwrap_err();
    assert_eq!(
        error.to_string(),
        format!("AirframeId must begin with \"air_\", got \"{id}\"")
    );
}

#[test]
fn upper_case_or_hyphenated_digits_are_refused() {
    for text in [
        "air_0190B5A1C7E87C3A9F4E2B6D8A1C0E57",
        "air_0190b5a1-c7e8-7c3a-9f4e-2b6d8a1c0e57",
        "air_",
    ] {
        assert!(
            matches!(text.parse::<AirframeId>(), Err(IdError::Digits { .. })),
            "{text}"
        );
    }
}

#[test]
fn later_identifiers_sort_after_earlier_ones() {
    let early = Utc.with_ymd_and_hms(2025, 1, 1, 0, 0, 0).unwrap();
    let late = Utc.with_ymd_and_hms(2025, 1, 2, 0, 0, 0).unwrap();
    assert!(FitId::new_at(early) < FitId::new_at(late));
    assert_eq!(FitId::new_at(early).uuid().get_version_num(), 7);
}

#[test]
fn the_same_instant_and_random_bytes_give_the_same_identifier() {
    let at = Utc.with_ymd_and_hms(2025, 1, 1, 0, 0, 0).unwrap();
    assert_eq!(
        RemovalId::from_parts(at, [7; 10]),
        RemovalId::from_parts(at, [7; 10])
    );
}

#[test]
fn an_owner_is_an_account_or_an_organisation_and_nothing_else() {
    let account = AccountId::new_at(Utc::now());
    let organisation = OrganisationId::new_at(Utc::now());
    assert_eq!(
        account.to_string().parse::<OwnerId>().unwrap(),
        OwnerId::Account(account)
    );
    assert_eq!(
        organisation.to_string().parse::<OwnerId>().unwrap(),
        OwnerId::Organisation(organisation)
    );
    assert!(
        "air_0190b5a1c7e87c3a9f4e2b6d8a1c0e57"
            .parse::<OwnerId>()
            .is_err()
    );
}

#[test]
fn the_schema_states_the_pattern() {
    let schema = serde_json::to_value(FailureReportId::schema()).unwrap();
    assert_eq!(schema["pattern"], "^fail_[0-9a-f]{32}$");
    assert_eq!(schema["type"], "string");
}

proptest! {
    #[test]
    fn no_text_makes_parsing_panic(text in ".{0,60}") {
        let _ = text.parse::<OwnerId>();
        let _ = text.parse::<InstallationId>();
    }
}
