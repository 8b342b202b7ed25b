//! One line of candump text into a frame.

use crate::read::clock::{DateOrder, moment};

/// One frame.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Frame {
    /// As stamped, seconds.
    pub(super) time_s: f64,
    pub(super) bus: String,
    pub(super) id: u32,
    /// `None` for a remote or error frame, which takes time and carries nothing.
    pub(super) data: Option<Vec<u8>>,
}

/// Reads one line: a frame, `None` for a blank line or a comment, or what was expected.
///
/// # Errors
/// The part that was expected where the line goes wrong.
pub(super) fn frame(line: &str) -> Result<Option<Frame>, &'static str> {
    let line = line.trim();
    if line.is_empty() || line.starts_with(['#', ';', '/']) {
        return Ok(None);
    }
    let rest = line.strip_prefix('(').ok_or("a time stamp in brackets")?;
    let (stamp, rest) = rest.split_once(')').ok_or("a closing bracket after the time stamp")?;
    let time_s = stamp_seconds(stamp.trim()).ok_or("a time stamp in seconds")?;
    let mut words = rest.split_whitespace();
    let bus = words.next().ok_or("an interface name")?;
    // `can0  RX - -  7E8   [8]  04 41 ..`: the direction and two flags of the screen form with extra words.
    let body =
        words.find(|w| !matches!(*w, "RX" | "TX" | "-" | "B" | "E")).ok_or("an identifier and data")?;
    let (id, data) = match body.split_once('#') {
        Some((id, data)) => (id, log_data(data)?),
        None => {
            let count = words.next().ok_or("a data length")?;
            let count =
                count.trim_start_matches('[').trim_end_matches(']').parse().map_err(|_| "a data length")?;
            let remote = words.clone().next() == Some("remote");
            (body, if remote { None } else { Some(screen_data(words, count)?) })
        }
    };
    if !matches!(id.len(), 3 | 8) {
        return Err("an identifier of 3 or 8 hex digits");
    }
    let id = u32::from_str_radix(id, 16).map_err(|_| "an identifier of 3 or 8 hex digits")?;
    let error_frame = id & 0x2000_0000 != 0;
    let data = data.filter(|_| !error_frame);
    Ok(Some(Frame { time_s, bus: bus.to_owned(), id, data }))
}

/// Seconds of a stamp, relative to a fixed second so that microseconds survive.
fn stamp_seconds(stamp: &str) -> Option<f64> {
    let fits = stamp.starts_with(|c: char| c.is_ascii_digit())
        && stamp.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    if fits {
        return stamp.parse().ok();
    }
    // `2015-07-10 08:30:52.252013`, the stamp of the screen form with dates.
    let m = moment(stamp, DateOrder::DayFirst)?;
    Some(m.day.unwrap_or(0) as f64 * 86_400.0 + m.seconds)
}

/// Data of the log form; `None` for a remote frame.
fn log_data(text: &str) -> Result<Option<Vec<u8>>, &'static str> {
    // CAN FD: `##` and one digit of flags.
    let hex = match text.strip_prefix('#') {
        Some(rest) => rest.get(1..).ok_or("CAN FD flags")?,
        None => text,
    };
    if hex.starts_with(['R', 'r']) {
        return Ok(None);
    }
    let hex = hex.split('_').next().unwrap_or(hex);
    let digits: Vec<u8> = hex.bytes().filter(|b| *b != b'.').collect();
    if !digits.len().is_multiple_of(2) || digits.len() > 128 {
        return Err("whole bytes of data, at most 64");
    }
    digits
        .chunks(2)
        .map(|pair| byte(pair).ok_or("data in hex digits"))
        .collect::<Result<Vec<_>, _>>()
        .map(Some)
}

fn screen_data<'a>(words: impl Iterator<Item = &'a str>, count: usize) -> Result<Vec<u8>, &'static str> {
    let data: Option<Vec<u8>> = words
        .take(count.min(64))
        .map(|word| if word.len() == 2 { byte(word.as_bytes()) } else { None })
        .collect();
    let data = data.ok_or("data in hex digits")?;
    if data.len() == count { Ok(data) } else { Err("as many data bytes as the length says") }
}

fn byte(pair: &[u8]) -> Option<u8> {
    u8::from_str_radix(std::str::from_utf8(pair).ok().filter(|p| !p.starts_with('+'))?, 16).ok()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn frames_in_the_forms_of_the_tool() {
        let log = frame("(1436509052.252013) can0 7E8#04410C1AF8AAAAAA").unwrap().unwrap();
        assert_eq!((log.id, log.data.as_ref().map(Vec::len)), (0x7e8, Some(8)));
        let wide = frame("(1436509054.003000) can0 18DAF110#03410B23AAAAAAAA R").unwrap().unwrap();
        assert_eq!(wide.id, 0x18da_f110);
        let screen = frame(" (0.000100)  can0  7E8   [8]  04 41 0C 1A F8 AA AA AA").unwrap().unwrap();
        assert_eq!(screen.data, log.data);
        assert_eq!(frame("(0.1) can0 7E8#R8").unwrap().unwrap().data, None, "a remote frame carries nothing");
        let wordy = frame(" (0.000100)  can0  RX - -  7E8   [8]  04 41 0C 1A F8 AA AA AA").unwrap().unwrap();
        assert_eq!((wordy.id, wordy.data), (0x7e8, log.data.clone()));
        assert!(frame("(0.1) can0 7E8#0441").unwrap().is_some());
        assert!(frame("(0.1) can0 7E8#044").is_err());
        assert!(frame("time,rpm").is_err());
    }
}
