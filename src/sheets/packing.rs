//! Which piece is cut from which roll: first-fit decreasing, and how few rolls could do at best.
//!
//! First-fit decreasing takes the pieces from the longest to the shortest and cuts each from the first roll that
//! still has enough; it needs at most 11/9 of the best count of rolls plus 6/9 (Dósa 2007, "The tight bound of
//! first fit decreasing bin-packing algorithm"; from memory). The lower bound is Martello and Toth's second (Lower
//! bounds and reduction procedures for the bin packing problem, 1990; from memory): at least as good as the sum of
//! the lengths over a roll, rounded up.

/// How pieces are cut from rolls of one length. Lengths are whole micrometres, so that sums are exact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packing {
    /// Length of a roll.
    pub roll: u64,
    /// For each roll, the pieces cut from it in the order they are cut, by their place in the list that was given.
    pub rolls: Vec<Vec<usize>>,
    /// What is left of each roll.
    pub left: Vec<u64>,
    /// Pieces longer than a roll, which no roll gives.
    pub too_long: Vec<usize>,
    /// No way of cutting takes fewer rolls.
    pub least_rolls: usize,
}

/// Cuts pieces from rolls of a length above 0: stage by stage, the lowest first, and in each from the longest piece down, so
/// that pieces of a later stage come off what the earlier ones leave and change nothing for these. Pieces of equal length
/// keep their order; where stages are missing, a piece is of the first.
pub fn first_fit_decreasing(pieces: &[u64], stages: &[u8], roll: u64) -> Packing {
    let mut order: Vec<usize> = (0..pieces.len()).collect();
    order.sort_by_key(|piece| (stages.get(*piece).copied().unwrap_or(0), std::cmp::Reverse(pieces[*piece])));
    let mut packing =
        Packing { roll, rolls: Vec::new(), left: Vec::new(), too_long: Vec::new(), least_rolls: 0 };
    for piece in order {
        let length = pieces[piece];
        if length > roll {
            packing.too_long.push(piece);
        } else if let Some(at) = packing.left.iter().position(|left| *left >= length) {
            packing.left[at] -= length;
            packing.rolls[at].push(piece);
        } else {
            packing.left.push(roll - length);
            packing.rolls.push(vec![piece]);
        }
    }
    let fitting: Vec<u64> = pieces.iter().copied().filter(|length| *length <= roll).collect();
    packing.least_rolls = least_rolls(&fitting, roll);
    packing
}

/// Martello and Toth's bound: for every length up to half a roll, pieces that leave less than it beside them take
/// a roll each, pieces above half a roll take one each, and what is shorter must fit beside the latter or take more.
fn least_rolls(pieces: &[u64], roll: u64) -> usize {
    let mut thresholds: Vec<u64> = pieces.iter().copied().filter(|length| length * 2 <= roll).collect();
    thresholds.push(0);
    thresholds.sort_unstable();
    thresholds.dedup();
    let bound = |shortest: u64| {
        let alone = pieces.iter().filter(|length| **length > roll - shortest).count();
        let large = || pieces.iter().filter(|length| **length <= roll - shortest && **length * 2 > roll);
        let beside = large().count() as u64 * roll - large().sum::<u64>();
        let small: u64 = pieces.iter().filter(|length| **length >= shortest && **length * 2 <= roll).sum();
        alone + large().count() + small.saturating_sub(beside).div_ceil(roll) as usize
    };
    thresholds.into_iter().map(bound).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The fewest rolls there are, by trying every way: each piece goes into every roll begun, or a new one.
    fn fewest(pieces: &[u64], roll: u64) -> usize {
        fn place(pieces: &[u64], left: &mut Vec<u64>, roll: u64, best: &mut usize) {
            if left.len() >= *best {
                return;
            }
            let Some((piece, rest)) = pieces.split_first() else {
                *best = left.len();
                return;
            };
            for at in 0..left.len() {
                if left[at] >= *piece {
                    left[at] -= piece;
                    place(rest, left, roll, best);
                    left[at] += piece;
                }
            }
            left.push(roll - piece);
            place(rest, left, roll, best);
            left.pop();
        }
        let mut best = pieces.len() + 1;
        place(pieces, &mut Vec::new(), roll, &mut best);
        best
    }

    fn check_is_sound(pieces: &[u64], packing: &Packing) {
        let mut seen: Vec<usize> = packing.rolls.iter().flatten().chain(&packing.too_long).copied().collect();
        seen.sort_unstable();
        assert_eq!(seen, (0..pieces.len()).collect::<Vec<_>>(), "every piece once");
        for (pieces_of_roll, left) in packing.rolls.iter().zip(&packing.left) {
            let used: u64 = pieces_of_roll.iter().map(|piece| pieces[*piece]).sum();
            assert_eq!(used + left, packing.roll);
        }
    }

    /// Repeatable numbers without a random crate: a linear congruential generator (Knuth's MMIX constants).
    fn numbers(seed: u64, count: usize, most: u64) -> Vec<u64> {
        let mut state = seed;
        let step = |_| {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (state >> 33) % most + 1
        };
        (0..count).map(step).collect()
    }

    #[test]
    fn between_the_lower_bound_and_the_known_limit_of_first_fit_decreasing() {
        let (mut exact, mut worse, mut bound_met) = (0, 0, 0);
        for seed in 0..400 {
            let pieces = numbers(seed, 4 + (seed % 6) as usize, [30, 55, 99][(seed % 3) as usize]);
            let packing = first_fit_decreasing(&pieces, &[], 100);
            check_is_sound(&pieces, &packing);
            let best = fewest(&pieces, 100);
            let used = packing.rolls.len();
            assert!(packing.least_rolls <= best, "{pieces:?}: bound {} above {best}", packing.least_rolls);
            assert!(used >= best && 9 * used <= 11 * best + 6, "{pieces:?}: {used} against {best}");
            exact += usize::from(used == best);
            worse += usize::from(used > best);
            bound_met += usize::from(packing.least_rolls == best);
        }
        assert!(exact > 350 && bound_met > 350, "{exact} exact, {bound_met} met by the bound");
        // One where first-fit decreasing is not best: 43 + 30 + 25 and 46 + 34 + 15 do with two rolls.
        let pieces = [46, 43, 34, 30, 25, 15];
        let (packing, best) = (first_fit_decreasing(&pieces, &[], 100), fewest(&pieces, 100));
        check_is_sound(&pieces, &packing);
        assert_eq!((packing.rolls.len(), best, packing.least_rolls), (3, 2, 2), "{worse} worse");
    }

    /// 60 and 30 are finished lengths; 80 and 10 may still change: they move nothing, and 10 comes off what is left.
    #[test]
    fn what_is_cut_later_leaves_the_earlier_pieces_where_they_are() {
        let (pieces, stages) = ([80, 60, 10, 30], [1, 0, 1, 0]);
        let packing = first_fit_decreasing(&pieces, &stages, 100);
        check_is_sound(&pieces, &packing);
        assert_eq!(packing.rolls, [vec![1, 3, 2], vec![0]]);
        assert_eq!(first_fit_decreasing(&pieces[1..2], &[], 100).rolls, [vec![0]]);
    }

    #[test]
    fn the_bound_counts_long_pieces() {
        // Three pieces above half a roll can't share, though their sum would fit on two.
        let packing = first_fit_decreasing(&[51, 51, 51], &[], 100);
        assert_eq!((packing.rolls.len(), packing.least_rolls), (3, 3));
    }

    #[test]
    fn too_long_pieces_are_named_and_nothing_is_cut_from_nothing() {
        let packing = first_fit_decreasing(&[50, 101, 100], &[], 100);
        assert_eq!(packing.too_long, [1]);
        assert_eq!(packing.rolls, [vec![2], vec![0]]);
        assert_eq!(packing.left, [0, 50]);
        assert_eq!(first_fit_decreasing(&[], &[], 100).least_rolls, 0);
    }
}
