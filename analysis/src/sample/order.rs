//! Canonical order: rows as sortable bits, sorted and merged into columns.
//!
//! Numbers here are at least zero, and the bits of such floating point numbers sort like the numbers.

use super::columns::Columns;

/// One row in bits, fields in the canonical order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Key {
    pub lower: u64,
    pub upper: u64,
    pub entry: u64,
    /// Place in the sorted names plus one; 0 without a cause.
    pub cause: u32,
    pub count: u64,
}

impl Key {
    fn same_life(&self, other: &Self) -> bool {
        (self.lower, self.upper, self.entry, self.cause)
            == (other.lower, other.upper, other.entry, other.cause)
    }

    /// A failure at usage zero.
    pub(super) fn dead_on_arrival(&self) -> bool {
        self.upper == 0
    }
}

/// Sorts and merges rows of any kind.
pub(super) fn columns(mut keys: Vec<Key>, names: Vec<String>) -> Columns {
    keys.sort_unstable();
    keys.dedup_by(|next, kept| {
        let same = kept.same_life(next);
        if same {
            kept.count += next.count;
        }
        same
    });
    let column = |used: fn(&Key) -> bool, read: fn(&Key) -> f64| -> Vec<f64> {
        if keys.iter().any(used) {
            keys.iter().map(read).collect()
        } else {
            Vec::new()
        }
    };
    let (cause, names) = causes(&keys, names);
    Columns {
        lower: keys.iter().map(|key| f64::from_bits(key.lower)).collect(),
        upper: keys.iter().map(|key| f64::from_bits(key.upper)).collect(),
        entry: column(|key| key.entry > 0, |key| f64::from_bits(key.entry)),
        count: if keys.iter().any(|key| key.count > 1) {
            keys.iter().map(|key| key.count).collect()
        } else {
            Vec::new()
        },
        cause,
        names,
    }
}

/// The column of causes, with only those names that some row uses, so that equal lives make equal samples.
fn causes(keys: &[Key], names: Vec<String>) -> (Vec<u32>, Vec<String>) {
    if keys.iter().all(|key| key.cause == 0) {
        return (Vec::new(), Vec::new());
    }
    let mut used = vec![false; names.len() + 1];
    for key in keys {
        if let Some(mark) = usize::try_from(key.cause)
            .ok()
            .and_then(|place| used.get_mut(place))
        {
            *mark = true;
        }
    }
    let mut fresh = vec![0_u32; used.len()];
    let mut kept = Vec::new();
    let mut next = 0;
    for ((name, used), fresh) in names
        .into_iter()
        .zip(used.iter().skip(1))
        .zip(fresh.iter_mut().skip(1))
    {
        if *used {
            next += 1;
            *fresh = next;
            kept.push(name);
        }
    }
    let place = |cause: u32| {
        let at = usize::try_from(cause).ok()?;
        fresh.get(at).copied()
    };
    let column = keys
        .iter()
        .map(|key| place(key.cause).unwrap_or(0))
        .collect();
    (column, kept)
}

/// Sorts and merges lives seen from new that failed at a known usage or not at all: one word a life, the usage's
/// bits and one more bit for "still running", which puts failures before survivors at ties.
pub(super) fn plain_columns(mut words: Vec<u64>) -> Columns {
    words.sort_unstable();
    let tied = words
        .windows(2)
        .any(|pair| matches!(pair, [a, b] if a == b));
    if !tied {
        let upper = words.iter().map(|word| end(*word)).collect();
        return Columns {
            upper,
            // In the memory of the words themselves.
            lower: words.into_iter().map(usage).collect(),
            ..Columns::default()
        };
    }
    let mut columns = Columns::default();
    for tie in words.chunk_by(|a, b| a == b) {
        if let Some(word) = tie.first() {
            columns.lower.push(usage(*word));
            columns.upper.push(end(*word));
            columns.count.push(tie.len() as u64);
        }
    }
    columns
}

/// One life seen from new, in a word.
pub(super) fn word(age: f64, failed: bool) -> u64 {
    (age.to_bits() << 1) | u64::from(!failed)
}

fn usage(word: u64) -> f64 {
    f64::from_bits(word >> 1)
}

fn end(word: u64) -> f64 {
    if word & 1 == 0 {
        usage(word)
    } else {
        f64::INFINITY
    }
}
