//! The part of a picture that a fit holds for: the hull of its stars. Outside it every place is extrapolated. Knows no sky.

/// The corners of the convex hull of some places, in order; nothing where they are all on one line.
///
/// Source: monotone chain, A. M. Andrew 1979, Inf. Process. Lett. 9, 216 (from memory).
pub fn hull(places: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut sorted = places.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let half = |places: &mut dyn Iterator<Item = &(f64, f64)>| {
        let mut chain: Vec<(f64, f64)> = Vec::new();
        for place in places {
            while let [.., before, last] = chain[..]
                && side(before, last, *place) <= 0.0
            {
                chain.pop();
            }
            chain.push(*place);
        }
        chain.pop();
        chain
    };
    let mut corners = half(&mut sorted.iter());
    corners.extend(half(&mut sorted.iter().rev()));
    if corners.len() < 3 {
        corners.clear();
    }
    corners
}

/// Whether a place is within a hull, as [`hull`] gives it.
pub fn holds(corners: &[(f64, f64)], place: (f64, f64)) -> bool {
    let next = corners.iter().cycle().skip(1);
    corners.len() > 2
        && corners
            .iter()
            .zip(next)
            .all(|(a, b)| side(*a, *b, place) >= 0.0)
}

/// On which side of the line from one place to another a third one is.
fn side(from: (f64, f64), to: (f64, f64), place: (f64, f64)) -> f64 {
    (to.0 - from.0) * (place.1 - from.1) - (to.1 - from.1) * (place.0 - from.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hull_holds_its_places_and_no_others() {
        let places = [
            (0.0, 0.0),
            (10.0, 0.0),
            (5.0, 4.0),
            (10.0, 10.0),
            (0.0, 10.0),
            (5.0, 0.0),
        ];
        let corners = hull(&places);
        assert_eq!(corners.len(), 4);
        assert!(places.iter().all(|place| holds(&corners, *place)));
        assert!(holds(&corners, (9.9, 5.0)) && !holds(&corners, (10.1, 5.0)));
        assert!(!holds(&corners, (-0.1, -0.1)));
        assert!(hull(&[(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)]).is_empty());
        assert!(hull(&[]).is_empty() && !holds(&[], (0.0, 0.0)));
    }
}
