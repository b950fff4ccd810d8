//! What moves over the sky in a night and on the ground: paths in the picture, and light along them.

use crate::kinds::Night;
use crate::random::Random;

pub type Vector = [f32; 3];

/// What an event is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    Meteor,
    Satellite,
    Aircraft,
    Train,
    Firefly,
    Headlamp,
    Car,
}

impl Class {
    pub fn word(self) -> &'static str {
        match self {
            Self::Meteor => "meteor",
            Self::Satellite => "satellite",
            Self::Aircraft => "aircraft",
            Self::Train => "train",
            Self::Firefly => "firefly",
            Self::Headlamp => "headlamp",
            Self::Car => "headlight",
        }
    }
}

/// One event of a night.
#[derive(Clone, Debug)]
pub struct Event {
    pub class: Class,
    pub sub: &'static str,
    pub number: usize,
    /// Seconds of the night at which it is first and last seen.
    pub from_s: f32,
    pub to_s: f32,
    /// For events in the sky: where it is at the first instant, which way it moves, and how fast.
    pub start: Vector,
    pub towards: Vector,
    pub speed_deg_s: f32,
    pub mag: f32,
    /// When it leaves the shadow of the Earth, and how fast it brightens, in seconds; it enters the shadow where these are below 0.
    pub shadow: Option<(f32, f32)>,
    /// Numbers that shape its light.
    pub shape: [f32; 3],
    /// For events near the ground: the place in the picture, a way, a bend, a width, a peak over the sky's noise.
    pub near: [f32; 7],
}

impl Event {
    pub fn direction(&self, at_s: f32) -> Vector {
        let turn = (self.speed_deg_s * (at_s - self.from_s)).to_radians();
        let (s, c) = turn.sin_cos();
        std::array::from_fn(|k| self.start[k] * c + self.towards[k] * s)
    }

    /// Its magnitude at an instant; faint where it is dark.
    pub fn magnitude(&self, at_s: f32) -> f32 {
        let share = (at_s - self.from_s) / (self.to_s - self.from_s).max(1e-3);
        if !(0.0..=1.0).contains(&share) {
            return 30.0;
        }
        let [a, b, c] = self.shape;
        let light = match (self.class, self.sub) {
            (Class::Meteor, _) => {
                let peak = (share / a).min(1.0) * ((1.0 - share) / (1.0 - a)).min(1.0);
                let flare = c * (-((share - a.max(0.6)) / 0.03).powi(2)).exp();
                peak.max(0.0).powf(b) + flare
            }
            (Class::Satellite, "tumble") => {
                (0.02 + (0.5 + 0.5 * (at_s * a + b).sin()).powf(c)).min(1.0)
            }
            (Class::Satellite, "glint") => 0.001 + (-((at_s - a) / b).powi(2)).exp(),
            (Class::Aircraft, _) => {
                let phase = (at_s / a).fract() * a;
                let strobe = if phase < 0.06 || (0.15..0.21).contains(&phase) {
                    12.0
                } else {
                    0.0
                };
                b + strobe
                    + if ((at_s / (a * 1.27)).fract()) < 0.3 {
                        c
                    } else {
                        0.0
                    }
            }
            (Class::Train, _) => (-share * 3.0).exp(),
            _ => 1.0,
        };
        let lit = self.shadow.map_or(1.0, |(from_s, over_s)| {
            1.0 / (1.0 + (-(at_s - from_s) / over_s).exp())
        });
        self.mag - 2.5 * (light * lit).max(1e-6).log10()
    }
}

/// All events of a night.
pub fn events(night: &Night) -> Vec<Event> {
    let mut random = Random::new(night.seed ^ 0xE7E7_0001);
    let cycle = night.exposure_s + night.pause_s;
    let length_s = cycle * night.frames as f32;
    let frames = night.frames as f32;
    let radiant = direction(&mut random, night, 2.2);
    let mut all = Vec::new();
    for _ in 0..random.count(night.meteors * frames) {
        all.push(meteor(&mut random, night, radiant, length_s));
    }
    if let Some(frame) = night.fireball {
        let mut ball = meteor(&mut random, night, radiant, length_s);
        let duration = random.between(0.6, 1.8);
        ball.from_s = cycle * frame as f32 + random.between(0.1, 0.5) * night.exposure_s;
        (ball.to_s, ball.mag, ball.sub) = (
            ball.from_s + duration,
            random.between(-9.0, -6.0),
            "fireball",
        );
        let mut train = ball.clone();
        (train.class, train.sub) = (Class::Train, "train");
        (train.from_s, train.mag) = (ball.to_s, random.between(0.0, 2.0));
        train.to_s = train.from_s + random.between(20.0, 120.0);
        // The path it lies along, and its drift in the wind.
        train.near = [
            ball.speed_deg_s * duration,
            random.between(-0.3, 0.3),
            random.between(-0.3, 0.3),
            0.0,
            0.0,
            0.0,
            0.0,
        ];
        all.extend([ball, train]);
    }
    let passing = frames * (1.0 + 2.0 * BESIDE_S / length_s);
    for _ in 0..random.count(night.satellites * passing) {
        all.push(satellite(&mut random, night, length_s));
    }
    for _ in 0..random.count(night.aircraft * passing) {
        all.push(aircraft(&mut random, night, length_s));
    }
    for (class, rate) in [
        (Class::Firefly, night.fireflies),
        (Class::Headlamp, night.headlamps),
        (Class::Car, night.cars),
    ] {
        for _ in 0..random.count(rate * frames) {
            all.push(near(&mut random, night, class, length_s));
        }
    }
    for (number, event) in all.iter_mut().enumerate() {
        event.number = number;
    }
    all
}

/// A direction in the picture or around it: `beyond` half widths from its middle at most.
fn direction(random: &mut Random, night: &Night, beyond: f32) -> Vector {
    let f = night.focal_px();
    let x = random.between(-1.0, 1.0) * beyond * night.width as f32 / 2.0;
    let y = random.between(-1.0, 1.0) * beyond * night.height as f32 / 2.0;
    unit([x, y, f])
}

pub fn unit(v: Vector) -> Vector {
    let length = (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt();
    v.map(|c| c / length)
}

pub fn dot(a: Vector, b: Vector) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The part of one direction across another.
fn across(of: Vector, base: Vector) -> Vector {
    let along = dot(of, base);
    unit(std::array::from_fn(|k| of[k] - along * base[k]))
}

fn blank(class: Class, sub: &'static str, start: Vector, towards: Vector) -> Event {
    Event {
        class,
        sub,
        number: 0,
        from_s: 0.0,
        to_s: 0.0,
        start,
        towards,
        speed_deg_s: 1.0,
        mag: 0.0,
        shadow: None,
        shape: [0.5, 1.0, 0.0],
        near: [0.0; 7],
    }
}

fn meteor(random: &mut Random, night: &Night, radiant: Vector, length_s: f32) -> Event {
    let start = direction(random, night, 1.1);
    let shower = random.chance(0.7) && dot(start, radiant) < 0.995;
    let away = if shower {
        radiant.map(|c| -c)
    } else {
        direction(random, night, 3.0).map(|c| if random.chance(0.5) { c } else { -c })
    };
    let mut event = blank(
        Class::Meteor,
        if shower { "shower" } else { "sporadic" },
        start,
        across(away, start),
    );
    event.speed_deg_s = if shower {
        (dot(start, radiant).clamp(-1.0, 1.0).acos().sin() * 28.0).max(2.5)
    } else {
        random.between(3.0, 28.0)
    };
    let duration = random.between(0.15, 0.5)
        + if random.chance(0.15) {
            random.between(0.2, 0.9)
        } else {
            0.0
        };
    event.from_s = random.between(0.0, length_s);
    event.to_s = event.from_s + duration;
    // Numbers rise 1.6 times a magnitude, slower than in the sky: all brightnesses are to be judged.
    event.mag = (2.0 + random.share().max(1e-4).ln() / 1.6_f32.ln()).max(-5.5);
    event.shape = [
        random.between(0.35, 0.8),
        random.between(0.5, 1.6),
        if random.chance(0.25) {
            random.between(0.5, 4.0)
        } else {
            0.0
        },
    ];
    event
}

/// Satellites and aircraft cross the picture within this time before or after the night as well.
const BESIDE_S: f32 = 90.0;
/// How far a satellite or an aircraft is seen before and after it is in the picture, in degrees.
const SEEN_DEG: f32 = 50.0;

/// What passes: it is seen from far on one side of a place in the picture to far on the other. Gives also when it is at that place.
fn passing(
    random: &mut Random,
    night: &Night,
    class: Class,
    sub: &'static str,
    length_s: f32,
) -> (Event, f32) {
    let (place, end) = (direction(random, night, 1.1), direction(random, night, 1.6));
    let way = across(end, place);
    let (s, c) = SEEN_DEG.to_radians().sin_cos();
    let start = std::array::from_fn(|k| place[k] * c - way[k] * s);
    let towards = std::array::from_fn(|k| place[k] * s + way[k] * c);
    let mut event = blank(class, sub, start, towards);
    event.speed_deg_s = random.between(0.15, 1.1);
    let at_s = random.between(-BESIDE_S, length_s + BESIDE_S);
    event.from_s = at_s - SEEN_DEG / event.speed_deg_s;
    event.to_s = at_s + SEEN_DEG / event.speed_deg_s;
    (event, at_s)
}

fn satellite(random: &mut Random, night: &Night, length_s: f32) -> Event {
    let sub = match random.share() {
        s if s < 0.65 => "steady",
        s if s < 0.9 => "tumble",
        _ => "glint",
    };
    let (mut event, at_s) = passing(random, night, Class::Satellite, sub, length_s);
    event.mag = random.between(0.5, 5.5);
    if random.chance(0.3) {
        let over_s = random.between(0.3, 2.5);
        event.shadow = Some((
            at_s + random.between(-40.0, 40.0),
            if random.chance(0.5) { over_s } else { -over_s },
        ));
    }
    match sub {
        "tumble" => {
            event.shape = [
                random.between(0.3, 4.0),
                random.between(0.0, 6.0),
                random.between(2.0, 20.0),
            ];
        }
        "glint" => {
            event.mag = random.between(-3.0, 2.0);
            event.shape = [
                at_s + random.between(-20.0, 20.0),
                random.between(0.5, 4.0),
                0.0,
            ];
        }
        _ => {}
    }
    event
}

fn aircraft(random: &mut Random, night: &Night, length_s: f32) -> Event {
    let (mut event, _) = passing(random, night, Class::Aircraft, "aircraft", length_s);
    event.mag = random.between(-1.5, 2.5);
    event.shape = [
        random.between(0.9, 1.5),
        random.between(0.05, 1.0),
        random.between(0.0, 3.0),
    ];
    // The lights of the two wings, so many pixels apart.
    event.near[0] = event.speed_deg_s * random.between(0.0, 9.0);
    event
}

fn near(random: &mut Random, night: &Night, class: Class, length_s: f32) -> Event {
    let mut event = blank(class, class.word(), [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]);
    let cycle = night.exposure_s + night.pause_s;
    event.from_s = (random.between(0.0, length_s) / cycle).floor() * cycle;
    let (w, h) = (night.width as f32, night.height as f32);
    let angle = random.between(0.0, std::f32::consts::TAU);
    let ground = night.ground * h;
    event.near = match class {
        Class::Firefly => [
            random.between(0.0, w),
            random.between(0.45 * h, h),
            random.between(6.0, 60.0),
            angle,
            random.between(-0.04, 0.04),
            random.between(0.8, 2.6),
            random.between(5.0, 60.0),
        ],
        Class::Headlamp => [
            random.between(0.0, w),
            random.between(ground, h),
            random.between(5.0, 90.0),
            random.between(-0.4, 0.4),
            random.between(-0.02, 0.02),
            random.between(1.5, 6.0),
            random.between(20.0, 200.0),
        ],
        _ => [
            random.between(0.0, w),
            ground + random.between(5.0, 50.0),
            random.between(30.0, 400.0),
            random.between(-0.1, 0.1),
            0.0,
            random.between(1.0, 3.0),
            random.between(20.0, 200.0),
        ],
    };
    event.to_s = event.from_s
        + night.exposure_s
            * if class == Class::Firefly && random.chance(0.3) {
                1.9
            } else {
                0.9
            };
    event
}
