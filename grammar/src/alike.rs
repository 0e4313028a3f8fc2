//! Where two versions of something begin and end alike.

/// How many of the first and of the last are the same; none is counted at both ends.
#[must_use]
pub fn alike<T: PartialEq>(old: &[T], new: &[T]) -> (usize, usize) {
    let front = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let rest = old.len().min(new.len()) - front;
    let back = old.iter().rev().zip(new.iter().rev()).take(rest).take_while(|(a, b)| a == b).count();
    (front, back)
}

#[cfg(test)]
mod tests {
    use super::alike;

    #[test]
    fn nothing_is_counted_twice() {
        assert_eq!(alike(b"", b""), (0, 0));
        assert_eq!(alike(b"same", b"same"), (4, 0));
        assert_eq!(alike(b"aa", b"aaa"), (2, 0));
        assert_eq!(alike(b"short tide", b"shorn tide"), (4, 5));
        assert_eq!(alike(b"abc", b"xyz"), (0, 0));
    }
}
