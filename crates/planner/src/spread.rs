//! Low, middle and high of one amount.

/// Low, middle and high value of an amount.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread<T> {
    /// By the low application rates; in a sum over pavement cases, the least of them.
    pub low: T,
    /// By the middle application rates; in a sum over pavement cases, that of the middle case.
    pub mid: T,
    /// By the high application rates; in a sum over pavement cases, the most of them.
    pub high: T,
}

impl<T: Copy + std::ops::Add<Output = T>> Spread<T> {
    /// Returns the sum of two spreads, part by part.
    pub fn plus(self, other: Self) -> Self {
        Self { low: self.low + other.low, mid: self.mid + other.mid, high: self.high + other.high }
    }
}

impl<T: Copy> Spread<T> {
    /// Returns a spread with three equal values.
    pub fn all(value: T) -> Self {
        Self { low: value, mid: value, high: value }
    }

    /// Applies a function to each part.
    pub fn map<U>(self, f: impl Fn(T) -> U) -> Spread<U> {
        Spread { low: f(self.low), mid: f(self.mid), high: f(self.high) }
    }
}
