//! The code that pairs a phone: six digits, for a few minutes, once.
//!
//! Ten wrong tries, from wherever they come, use the code up and make everybody wait: of a million codes a stranger then
//! tries ten in each pause. Times are handed in, so that nothing here waits.

use std::time::Duration;

/// How long a code can be used: long enough to walk to the copy stand, short enough that a code left on the screen is dead.
pub const CODE_LASTS: Duration = Duration::from_secs(5 * 60);
/// Wrong tries until the pause.
pub const TRIES: u32 = 10;
/// How long nobody can pair after that.
pub const PAUSE: Duration = Duration::from_secs(5 * 60);

/// A code: six digits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Code(String);

impl Code {
    /// The code of a random number. Taken modulo a million, 32 bits favour no code by more than one part in 4000.
    pub fn of(random: u32) -> Self {
        Self(format!("{:06}", random % 1_000_000))
    }

    /// The six digits.
    pub fn digits(&self) -> &str {
        &self.0
    }

    /// As it is read aloud: two groups of three.
    pub fn spaced(&self) -> String {
        format!("{} {}", &self.0[..3], &self.0[3..])
    }
}

/// Why a phone was not paired.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotPaired {
    /// Too many wrong codes.
    #[error("ten wrong codes were entered, so nobody can pair for {} more", minutes(*.wait))]
    Pause {
        /// How long it still lasts.
        wait: Duration,
    },
    /// There is no code, it was used, or its time is over.
    #[error("no code is waiting: the last one was used, or its {} are over", minutes(CODE_LASTS))]
    NoCode,
    /// The code is another.
    #[error("this is not the code that the computer shows; {left} {} left", if *.left == 1 { "try is" } else { "tries are" })]
    Wrong {
        /// How many more wrong codes until the pause.
        left: u32,
    },
}

/// "5 minutes", "1 minute", "40 seconds".
fn minutes(time: Duration) -> String {
    let seconds = time.as_secs_f64().ceil() as u64;
    match (seconds.div_ceil(60), seconds) {
        (_, 1) => "1 second".into(),
        (0 | 1, seconds) if seconds < 60 => format!("{seconds} seconds"),
        (1, _) => "1 minute".into(),
        (minutes, _) => format!("{minutes} minutes"),
    }
}

/// The code that is waiting, if any, and the wrong tries so far. All times count from one fixed moment.
#[derive(Debug, Default)]
pub struct Pairing {
    waiting: Option<(Code, Duration)>,
    wrong: u32,
    paused_until: Option<Duration>,
}

impl Pairing {
    /// Puts a new code in the place of the one before. During a pause there is none.
    pub fn show(&mut self, code: Code, now: Duration) -> Result<(), NotPaired> {
        self.not_paused(now)?;
        self.waiting = Some((code, now + CODE_LASTS));
        Ok(())
    }

    /// Forgets the code. Wrong tries and the pause stay: closing and opening must not give ten more tries.
    pub fn forget_code(&mut self) {
        self.waiting = None;
    }

    /// The code that can be used now, and how long still.
    pub fn waiting(&self, now: Duration) -> Option<(&Code, Duration)> {
        let (code, until) = self.waiting.as_ref()?;
        Some((code, until.checked_sub(now)?)).filter(|(_, left)| !left.is_zero())
    }

    /// Tries a code as it was typed, blanks and hyphens aside. The right one is used up by that.
    pub fn try_code(&mut self, typed: &str, now: Duration) -> Result<(), NotPaired> {
        self.not_paused(now)?;
        let digits: String = typed.chars().filter(|c| !c.is_whitespace() && *c != '-').collect();
        let Some((code, _)) = self.waiting(now) else {
            self.waiting = None;
            // Counted too: otherwise the answer would tell for nothing when a code is waiting.
            self.count_wrong(now)?;
            return Err(NotPaired::NoCode);
        };
        if !same(code.digits(), &digits) {
            return Err(NotPaired::Wrong { left: self.count_wrong(now)? });
        }
        *self = Self::default();
        Ok(())
    }

    fn count_wrong(&mut self, now: Duration) -> Result<u32, NotPaired> {
        self.wrong += 1;
        if self.wrong < TRIES {
            return Ok(TRIES - self.wrong);
        }
        *self = Self { paused_until: Some(now + PAUSE), ..Self::default() };
        Err(NotPaired::Pause { wait: PAUSE })
    }

    /// Refuses while the pause lasts.
    pub fn not_paused(&mut self, now: Duration) -> Result<(), NotPaired> {
        match self.paused_until {
            Some(until) if until > now => Err(NotPaired::Pause { wait: until - now }),
            _ => {
                self.paused_until = None;
                Ok(())
            }
        }
    }
}

/// Compares in a time that does not tell how much was right.
fn same(one: &str, other: &str) -> bool {
    let differ = one.bytes().zip(other.bytes()).fold(0, |sum, (a, b)| sum | (a ^ b));
    one.len() == other.len() && differ == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECOND: Duration = Duration::from_secs(1);

    fn shown() -> Pairing {
        let mut pairing = Pairing::default();
        pairing.show(Code::of(42), Duration::ZERO).unwrap();
        pairing
    }

    #[test]
    fn codes_have_six_digits() {
        assert_eq!(Code::of(42).digits(), "000042");
        assert_eq!(Code::of(123_456_789).spaced(), "456 789");
    }

    #[test]
    fn the_right_code_pairs_once() {
        let mut pairing = shown();
        assert_eq!(
            pairing.waiting(SECOND).map(|(code, left)| (code.digits(), left)),
            Some(("000042", CODE_LASTS - SECOND))
        );
        assert_eq!(pairing.try_code(" 000-042 ", SECOND), Ok(()));
        assert_eq!(pairing.try_code("000042", SECOND), Err(NotPaired::NoCode));
        assert!(pairing.waiting(SECOND).is_none());
    }

    #[test]
    fn a_code_dies_with_its_time() {
        let mut pairing = shown();
        assert!(pairing.waiting(CODE_LASTS - SECOND).is_some());
        assert!(pairing.waiting(CODE_LASTS).is_none());
        assert_eq!(pairing.try_code("000042", CODE_LASTS), Err(NotPaired::NoCode));
    }

    #[test]
    fn ten_wrong_codes_make_everybody_wait() {
        let mut pairing = shown();
        for left in (1..TRIES).rev() {
            assert_eq!(pairing.try_code("000043", SECOND), Err(NotPaired::Wrong { left }));
        }
        assert_eq!(pairing.try_code("", SECOND), Err(NotPaired::Pause { wait: PAUSE }));
        // The right one too, and a fresh one, until the pause is over.
        assert_eq!(pairing.try_code("000042", 31 * SECOND), Err(NotPaired::Pause { wait: PAUSE - 30 * SECOND }));
        assert_eq!(pairing.show(Code::of(1), 31 * SECOND), Err(NotPaired::Pause { wait: PAUSE - 30 * SECOND }));
        let after = PAUSE + SECOND;
        assert_eq!(pairing.try_code("000042", after), Err(NotPaired::NoCode), "the old code is used up");
        pairing.show(Code::of(1), after).unwrap();
        assert_eq!(pairing.try_code("000001", after), Ok(()));
    }

    #[test]
    fn guessing_when_no_code_waits_counts_too() {
        let mut pairing = Pairing::default();
        for _ in 1..TRIES {
            assert_eq!(pairing.try_code("000000", SECOND), Err(NotPaired::NoCode));
        }
        assert_eq!(pairing.try_code("000000", SECOND), Err(NotPaired::Pause { wait: PAUSE }));
    }

    #[test]
    fn a_new_code_does_not_forgive_wrong_tries() {
        let mut pairing = shown();
        pairing.try_code("1", SECOND).unwrap_err();
        pairing.show(Code::of(7), SECOND).unwrap();
        assert_eq!(pairing.try_code("000042", SECOND), Err(NotPaired::Wrong { left: TRIES - 2 }));
    }

    #[test]
    fn the_wait_is_told_in_words() {
        let told = |seconds| NotPaired::Pause { wait: Duration::from_secs(seconds) }.to_string();
        assert_eq!(told(300), "ten wrong codes were entered, so nobody can pair for 5 minutes more");
        assert_eq!(told(61), "ten wrong codes were entered, so nobody can pair for 2 minutes more");
        assert_eq!(told(60), "ten wrong codes were entered, so nobody can pair for 1 minute more");
        assert_eq!(told(40), "ten wrong codes were entered, so nobody can pair for 40 seconds more");
        assert_eq!(
            NotPaired::Wrong { left: 1 }.to_string(),
            "this is not the code that the computer shows; 1 try is left"
        );
    }
}
