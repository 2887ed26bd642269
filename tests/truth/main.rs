//! Published lives, entered as a pilot enters them, come out as published.

mod compare;
mod curves;
mod models;
mod replay;
