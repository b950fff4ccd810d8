//! The little vector arithmetic of the room.

/// Three components.
pub type Vector = [f64; 3];
/// Three rows.
pub type Matrix = [Vector; 3];

/// Scalar product.
pub fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Vector product.
pub fn cross(a: Vector, b: Vector) -> Vector {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// The sum.
pub fn plus(a: Vector, b: Vector) -> Vector {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// A multiple.
pub fn scaled(a: Vector, by: f64) -> Vector {
    [a[0] * by, a[1] * by, a[2] * by]
}

/// The unit vector along `a`; `a` itself where it is 0.
pub fn unit(a: Vector) -> Vector {
    let length = dot(a, a).sqrt();
    if length > 0.0 {
        scaled(a, 1.0 / length)
    } else {
        a
    }
}

/// The angle between two vectors in radians. Exact to rounding for small and for straight angles too.
pub fn angle_rad(a: Vector, b: Vector) -> f64 {
    let n = cross(a, b);
    dot(n, n).sqrt().atan2(dot(a, b))
}

/// A vector turned about an axis, a unit vector, by an angle in radians.
///
/// Source: formula of Rodrigues, common practice.
pub fn turned_about(a: Vector, axis: Vector, angle: f64) -> Vector {
    let (sin, cos) = angle.sin_cos();
    plus(
        plus(scaled(a, cos), scaled(cross(axis, a), sin)),
        scaled(axis, dot(axis, a) * (1.0 - cos)),
    )
}

/// A matrix times a vector.
pub fn turned(by: &Matrix, a: Vector) -> Vector {
    [dot(by[0], a), dot(by[1], a), dot(by[2], a)]
}

/// The transposed matrix times a vector: the turn back.
pub fn turned_back(by: &Matrix, a: Vector) -> Vector {
    plus(
        plus(scaled(by[0], a[0]), scaled(by[1], a[1])),
        scaled(by[2], a[2]),
    )
}

/// The unit vector of a right ascension and declination, or of an azimuth counted the same way.
pub fn from_angles_rad(longitude: f64, latitude: f64) -> Vector {
    let (sin_lat, cos_lat) = latitude.sin_cos();
    [
        cos_lat * longitude.cos(),
        cos_lat * longitude.sin(),
        sin_lat,
    ]
}

/// A rotation turned further by a small rotation vector, its rows made perpendicular again.
pub fn turned_further(rows: &Matrix, by: Vector) -> Matrix {
    let angle = dot(by, by).sqrt();
    let turn = |a: Vector| {
        if angle < 1e-15 {
            return a;
        }
        turned_about(a, scaled(by, 1.0 / angle), angle)
    };
    // Columns of the matrix are what the directions of the sky become.
    let column = |k: usize| turn([rows[0][k], rows[1][k], rows[2][k]]);
    let (x, y, z) = (column(0), column(1), column(2));
    orthonormal(&[[x[0], y[0], z[0]], [x[1], y[1], z[1]], [x[2], y[2], z[2]]])
}

/// The rotation that takes two directions to two others as well as one can: their middles and planes exactly.
///
/// Source: H. D. Black 1964, AIAA Journal 2, 1350 (from memory).
pub fn rotation_of_pairs(from: (Vector, Vector), to: (Vector, Vector)) -> Matrix {
    let frame = |(a, b): (Vector, Vector)| {
        let middle = unit(plus(a, b));
        let normal = unit(cross(a, b));
        [middle, normal, cross(middle, normal)]
    };
    let (f, t) = (frame(from), frame(to));
    let row = |k: usize| {
        plus(
            plus(scaled(f[0], t[0][k]), scaled(f[1], t[1][k])),
            scaled(f[2], t[2][k]),
        )
    };
    [row(0), row(1), row(2)]
}

/// Rows made perpendicular, the third one kept.
pub fn orthonormal(rows: &Matrix) -> Matrix {
    let z = unit(rows[2]);
    let x = unit(plus(rows[0], scaled(z, -dot(rows[0], z))));
    [x, cross(z, x), z]
}

/// One rotation after another: `first`, then `then`.
pub fn product(then: &Matrix, first: &Matrix) -> Matrix {
    let column = |k: usize| [first[0][k], first[1][k], first[2][k]];
    let row = |k: usize| {
        [
            dot(then[k], column(0)),
            dot(then[k], column(1)),
            dot(then[k], column(2)),
        ]
    };
    [row(0), row(1), row(2)]
}

/// The turn back.
pub fn transposed(a: &Matrix) -> Matrix {
    let column = |k: usize| [a[0][k], a[1][k], a[2][k]];
    [column(0), column(1), column(2)]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: Vector, b: Vector) -> bool {
        a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-12)
    }

    #[test]
    fn a_rotation_by_pairs_takes_one_to_the_other() {
        let from = (from_angles_rad(0.3, 0.2), from_angles_rad(0.9, -0.4));
        let by = turned_further(
            &[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            [0.4, -1.1, 0.7],
        );
        let to = (turned(&by, from.0), turned(&by, from.1));
        let found = rotation_of_pairs(from, to);
        assert!(close(turned(&found, from.0), to.0) && close(turned(&found, from.1), to.1));
        assert!(close(turned_back(&found, to.0), from.0));
        assert!(close(
            product(&transposed(&found), &found)[1],
            [0.0, 1.0, 0.0]
        ));
    }

    #[test]
    fn a_small_turn_is_a_vector_product() {
        let still = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let turned_a = turned(
            &turned_further(&still, [1e-7, 2e-7, -1e-7]),
            [0.6, 0.0, 0.8],
        );
        let expect = plus([0.6, 0.0, 0.8], cross([1e-7, 2e-7, -1e-7], [0.6, 0.0, 0.8]));
        assert!(close(turned_a, expect));
    }
}
