//! HTTP manners that every route shares: problems, bodies, queries, lists, tags, retries.

pub mod admission;
pub mod body;
pub mod codes;
pub mod etag;
pub mod heavy_work;
pub mod idempotency;
pub mod middleware;
pub mod moment;
pub mod paging;
pub mod path;
pub mod problem;
pub mod query;
pub mod reply;
pub mod text;
pub mod write;
