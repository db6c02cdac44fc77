//! Blocks of samples and the parts they are summed up in.

use pco::ChunkConfig;
use pco::standalone::{simple_compress, simple_decompress};

use message::{Message, message};

use crate::StoreError;
use crate::error::outside;

/// Length of the parts kept beside the samples, ms: a minute, and a quarter of an hour.
pub(super) const MINUTE: i64 = 60_000;
pub(super) const QUARTER: i64 = 15 * MINUTE;

/// Samples summed up over one part of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Part {
    pub from: i64,
    pub count: u64,
    pub least: f64,
    pub most: f64,
    pub sum: f64,
}

impl Part {
    pub fn one(from: i64, value: f64) -> Self {
        Self { from, count: 1, least: value, most: value, sum: value }
    }

    pub fn add(&mut self, other: &Self) {
        self.count += other.count;
        self.least = self.least.min(other.least);
        self.most = self.most.max(other.most);
        self.sum += other.sum;
    }
}

/// Adds a part to those of a list in order of time, joining it with one of the same begin.
pub(super) fn join(parts: &mut Vec<Part>, part: Part) {
    match parts.last_mut() {
        Some(last) if last.from == part.from => last.add(&part),
        Some(last) if part.from < last.from => match parts.binary_search_by_key(&part.from, |one| one.from) {
            Ok(place) => parts[place].add(&part),
            Err(place) => parts.insert(place, part),
        },
        _ => parts.push(part),
    }
}

/// Samples in order of time as parts of a length.
pub(super) fn parts(samples: &[(i64, f64)], length: i64) -> Vec<Part> {
    let mut found = Vec::new();
    for (at, value) in samples {
        join(&mut found, Part::one(at - at.rem_euclid(length), *value));
    }
    found
}

fn damaged(what: Message) -> StoreError {
    StoreError::Database(message!("store.telemetry.block", what = what))
}

fn undecoded(error: impl std::fmt::Display) -> StoreError {
    damaged(outside(error))
}

fn cut_off() -> StoreError {
    damaged(message!("store.telemetry.cut_off"))
}

pub(super) fn other_checksum() -> StoreError {
    damaged(message!("store.telemetry.checksum"))
}

/// Bytes with their checksum (CRC-32, IEEE 802.3) at the end, over what they are and over themselves.
pub(super) fn sealed(label: &[u8], bytes: &[u8]) -> Vec<u8> {
    [bytes, &checksum(label, bytes).to_le_bytes()].concat()
}

/// Sealed bytes without their checksum.
pub(super) fn opened<'b>(label: &[u8], bytes: &'b [u8]) -> Result<&'b [u8], StoreError> {
    let (bytes, sum) = bytes.split_last_chunk::<4>().ok_or_else(cut_off)?;
    if checksum(label, bytes) == u32::from_le_bytes(*sum) { Ok(bytes) } else { Err(other_checksum()) }
}

fn checksum(label: &[u8], bytes: &[u8]) -> u32 {
    let mut sum = crc32fast::Hasher::new();
    sum.update(label);
    sum.update(bytes);
    sum.finalize()
}

/// Samples as bytes: times, then values, each compressed and with its length before it.
pub(super) fn pack(samples: &[(i64, f64)]) -> Result<Vec<u8>, StoreError> {
    let (times, values): (Vec<i64>, Vec<f64>) = samples.iter().copied().unzip();
    let config = ChunkConfig::default();
    let times = simple_compress(&times, &config).map_err(undecoded)?;
    let values = simple_compress(&values, &config).map_err(undecoded)?;
    let mut bytes = Vec::with_capacity(4 + times.len() + values.len());
    bytes.extend(u32::try_from(times.len()).map_err(undecoded)?.to_le_bytes());
    bytes.extend(times);
    bytes.extend(values);
    Ok(bytes)
}

/// The samples of a block.
pub(super) fn unpack(bytes: &[u8]) -> Result<Vec<(i64, f64)>, StoreError> {
    let (length, rest) = bytes.split_first_chunk::<4>().ok_or_else(cut_off)?;
    let length = u32::from_le_bytes(*length) as usize;
    let (times, values) = rest.split_at_checked(length).ok_or_else(cut_off)?;
    let times = simple_decompress::<i64>(times).map_err(undecoded)?;
    let values = simple_decompress::<f64>(values).map_err(undecoded)?;
    if times.len() != values.len() {
        return Err(damaged(message!("store.telemetry.counts")));
    }
    Ok(times.into_iter().zip(values).collect())
}

/// Parts as bytes: each of their five figures compressed by itself, with its length before it.
pub(super) fn pack_parts(parts: &[Part]) -> Result<Vec<u8>, StoreError> {
    let config = ChunkConfig::default();
    let froms: Vec<i64> = parts.iter().map(|part| part.from).collect();
    let counts: Vec<u64> = parts.iter().map(|part| part.count).collect();
    let figures = |of: fn(&Part) -> f64| -> Vec<f64> { parts.iter().map(of).collect() };
    let packed = [
        simple_compress(&froms, &config),
        simple_compress(&counts, &config),
        simple_compress(&figures(|part| part.least), &config),
        simple_compress(&figures(|part| part.most), &config),
        simple_compress(&figures(|part| part.sum), &config),
    ];
    let mut bytes = Vec::new();
    for one in packed {
        let one = one.map_err(undecoded)?;
        bytes.extend(u32::try_from(one.len()).map_err(undecoded)?.to_le_bytes());
        bytes.extend(one);
    }
    Ok(bytes)
}

/// The parts of some bytes.
pub(super) fn unpack_parts(bytes: &[u8]) -> Result<Vec<Part>, StoreError> {
    let mut rest = bytes;
    let mut next = || -> Result<&[u8], StoreError> {
        let (length, after) = rest.split_first_chunk::<4>().ok_or_else(cut_off)?;
        let length = u32::from_le_bytes(*length) as usize;
        let (one, after) = after.split_at_checked(length).ok_or_else(cut_off)?;
        rest = after;
        Ok(one)
    };
    let froms = simple_decompress::<i64>(next()?).map_err(undecoded)?;
    let counts = simple_decompress::<u64>(next()?).map_err(undecoded)?;
    let mut figures = || simple_decompress::<f64>(next()?).map_err(undecoded);
    let (leasts, mosts, sums) = (figures()?, figures()?, figures()?);
    if [counts.len(), leasts.len(), mosts.len(), sums.len()] != [froms.len(); 4] {
        return Err(damaged(message!("store.telemetry.counts")));
    }
    Ok((0..froms.len())
        .map(|one| Part {
            from: froms[one],
            count: counts[one],
            least: leasts[one],
            most: mosts[one],
            sum: sums[one],
        })
        .collect())
}

/// Bytes of one part as it lies open: begin, count, least, most, sum.
const PART: usize = 40;

/// Few parts as bytes, so that thousands of such rows are read at once.
pub(super) fn lay_parts(parts: &[Part]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(PART * parts.len());
    for part in parts {
        bytes.extend(part.from.to_le_bytes());
        bytes.extend(part.count.to_le_bytes());
        for value in [part.least, part.most, part.sum] {
            bytes.extend(value.to_le_bytes());
        }
    }
    bytes
}

/// The parts of bytes that lie open.
pub(super) fn laid_parts(bytes: &[u8]) -> Vec<Part> {
    let part = |part: &[u8]| {
        let eight = |place: usize| -> [u8; 8] { std::array::from_fn(|byte| part[8 * place + byte]) };
        Part {
            from: i64::from_le_bytes(eight(0)),
            count: u64::from_le_bytes(eight(1)),
            least: f64::from_le_bytes(eight(2)),
            most: f64::from_le_bytes(eight(3)),
            sum: f64::from_le_bytes(eight(4)),
        }
    };
    bytes.chunks_exact(PART).map(part).collect()
}

#[cfg(test)]
mod tests {
    use any_bytes::{bytes, cases, damaged, soon};
    use proptest::prelude::*;

    use super::{Part, laid_parts, opened, pack, pack_parts, parts, sealed, unpack, unpack_parts};

    fn samples() -> Vec<(i64, f64)> {
        (0..400).map(|n| (1_700_000_000_000 + 1000 * n, 23.0 + (n % 7) as f64 / 10.0)).collect()
    }

    fn summed() -> Vec<Part> {
        parts(&samples(), super::MINUTE)
    }

    fn packed() -> [Vec<u8>; 2] {
        [pack(&samples()).unwrap_or_default(), pack_parts(&summed()).unwrap_or_default()]
    }

    #[test]
    fn what_is_packed_comes_back() {
        let [one, other] = packed();
        assert_eq!(unpack(&one).ok(), Some(samples()));
        assert_eq!(unpack_parts(&other).ok(), Some(summed()));
        assert_eq!(opened(b"label", &sealed(b"label", &one)).ok(), Some(one.as_slice()));
        assert!(opened(b"another", &sealed(b"label", &one)).is_err());
    }

    proptest! {
        #![proptest_config(cases(200))]

        /// Past the checksum, too: a block that fits it may come from a program that was wrong.
        #[test]
        fn any_block_is_read_or_refused(
            bytes in prop_oneof![bytes(), damaged(&packed().each_ref().map(Vec::as_slice))],
        ) {
            let _ = soon(|| (unpack(&bytes).is_ok(), unpack_parts(&bytes).is_ok()));
            prop_assert_eq!(laid_parts(&bytes).len(), bytes.len() / 40);
            let is_sealed = opened(b"label", &bytes).is_ok();
            prop_assert!(!is_sealed || bytes.len() >= 4);
        }
    }
}
