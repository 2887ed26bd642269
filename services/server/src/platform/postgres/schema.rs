//! The tables as diesel sees them. Written by hand beside the migrations; `tests/api` fails when a column is missing.
#![expect(
    missing_docs,
    reason = "names and types are those of the migrations, which carry the comments"
)]

use diesel::{allow_tables_to_appear_in_same_query, table};

table! { instance (only_row) { only_row -> Bool, cursor_key -> Bytea, demo -> Bool, created_at -> Timestamptz, } }
table! { outbox (id) { id -> BigInt, event -> Jsonb, created_at -> Timestamptz, } }
table! {
    jobs (id) {
        id -> BigInt, kind -> Text, key -> Text, state -> Text, attempts -> Integer, run_at -> Timestamptz,
        leased_until -> Nullable<Timestamptz>, last_error -> Nullable<Text>, created_at -> Timestamptz,
    }
}
table! {
    idempotency_keys (token_id, key) {
        token_id -> Uuid, key -> Text, fingerprint -> Bytea, status -> SmallInt, location -> Nullable<Text>,
        etag -> Nullable<Text>, body -> Text, created_at -> Timestamptz,
    }
}
table! { owners (id) { id -> Uuid, kind -> Text, } }
table! { organisations (id) { id -> Uuid, kind -> Text, name -> Text, created_at -> Timestamptz, } }
table! { accounts (id) { id -> Uuid, display_name -> Text, created_at -> Timestamptz, } }
table! {
    memberships (organisation_id, account_id) { organisation_id -> Uuid, account_id -> Uuid, created_at -> Timestamptz, }
}
table! {
    api_tokens (id) {
        id -> Uuid, account_id -> Uuid, name -> Text, secret_sha256 -> Bytea, scopes -> Array<Text>,
        created_at -> Timestamptz, expires_at -> Timestamptz, revoked_at -> Nullable<Timestamptz>,
    }
}
table! { part_types (key) { key -> Text, name -> Text, } }
table! { failure_modes (part_type_key, key) { part_type_key -> Text, key -> Text, name -> Text, } }
table! {
    aircraft_designs (id) {
        id -> Uuid, key -> Text, name -> Text, rotor_class_mm -> Nullable<Double>, drive -> Nullable<Text>,
        invented -> Bool, created_at -> Timestamptz,
    }
}
table! { positions (id) { id -> Uuid, design_id -> Uuid, key -> Text, name -> Text, part_type_key -> Text, } }
table! {
    airframes (id) {
        id -> Uuid, owner_id -> Uuid, design_id -> Uuid, name -> Text, usual_head_speed_rpm -> Nullable<Double>,
        note -> Nullable<Text>, created_at -> Timestamptz,
    }
}
table! {
    components (id) {
        id -> Uuid, owner_id -> Uuid, part_type_key -> Text, part_number -> Nullable<Text>, serial -> Nullable<Text>,
        lot -> Nullable<Text>, note -> Nullable<Text>, created_at -> Timestamptz,
    }
}
table! {
    installations (id) {
        id -> Uuid, owner_id -> Uuid, component_id -> Uuid, airframe_id -> Uuid, position_id -> Uuid,
        fitted_at -> Timestamptz, age_basis -> Text, age_flights -> Nullable<Double>,
        age_flight_minutes -> Nullable<Double>, age_rotor_krev -> Nullable<Double>,
        removed_at -> Nullable<Timestamptz>, created_at -> Timestamptz,
    }
}
table! {
    removals (id) {
        id -> Uuid, owner_id -> Uuid, installation_id -> Uuid, removed_at -> Timestamptz, reason -> Text,
        note -> Nullable<Text>, created_at -> Timestamptz,
    }
}
table! {
    flights (id) {
        id -> Uuid, owner_id -> Uuid, airframe_id -> Uuid, flown_at -> Timestamptz,
        #[sql_name = "flights"] flight_count -> Integer, duration_minutes -> Double, duration_basis -> Text,
        head_speed_rpm -> Nullable<Double>, hard_share -> Nullable<Double>, note -> Nullable<Text>, created_at -> Timestamptz,
    }
}
table! {
    usage_readings (id) {
        id -> Uuid, owner_id -> Uuid, airframe_id -> Uuid, read_at -> Timestamptz, flights -> Double,
        flight_minutes -> Nullable<Double>, rotor_krev -> Nullable<Double>, note -> Nullable<Text>, created_at -> Timestamptz,
    }
}
table! {
    failure_reports (id) {
        id -> Uuid, owner_id -> Uuid, installation_id -> Uuid, component_id -> Uuid, part_type_key -> Text, mode_key -> Text,
        occurred_at -> Timestamptz, last_known_good_at -> Nullable<Timestamptz>, discovery -> Text, role -> Text,
        cause -> Text, severity -> Text, detail -> Nullable<Text>, created_at -> Timestamptz,
    }
}
table! {
    lives (component_id, scale) {
        component_id -> Uuid, scale -> Text, part_type_key -> Text, owner_id -> Uuid, entry -> Double, life -> Jsonb,
    }
}
table! {
    life_exclusions (component_id, scale) { component_id -> Uuid, scale -> Text, part_type_key -> Text, exclusion -> Jsonb, }
}
table! {
    fits (id) {
        id -> Uuid, part_type_key -> Text, scale -> Text, engine_version -> Text, data_digest -> Text,
        data_as_of -> Timestamptz, inputs -> Text, report -> Text, advice -> Text,
        created_at -> Timestamptz,
    }
}

allow_tables_to_appear_in_same_query!(
    owners,
    organisations,
    accounts,
    memberships,
    api_tokens,
    part_types,
    failure_modes,
    aircraft_designs,
    positions,
    airframes,
    components,
    installations,
    removals,
    flights,
    usage_readings,
    failure_reports,
    lives,
    life_exclusions,
    fits,
);
