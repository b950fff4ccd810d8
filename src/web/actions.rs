//! What a page states, as the use cases of the commands.

use serde_json::Value;

use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::terms::trail::Judgement;
use crate::terms::trail::PicturePoint;
use crate::terms::trail::TrailEnds;
use crate::terms::trail::TrailIs;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::looking::mark::LookSaid;
use crate::usecase::looking::mark::mark_frames;
use crate::usecase::looking::mark::parse_note;
use crate::usecase::looking::trails::TrailNumbers;
use crate::usecase::looking::trails::add_trail;
use crate::usecase::looking::trails::judge_trails;
use crate::usecase::looking::trails::judgement;
use crate::usecase::looking::trails::parse_shower;
use crate::usecase::looking::undo::Direction;
use crate::usecase::looking::undo::undo;
use crate::web::session::LookSession;

/// Does what a page asks for. Gives: what was done, in words.
///
/// Refuses: what no page asks for; frames and trails that are not on the page.
pub fn act(session: &LookSession, body: &[u8]) -> Result<String, Failure> {
    let asked: Value = serde_json::from_slice(body).map_err(|_| unknown("not JSON"))?;
    match asked["do"].as_str() {
        Some("mark") => mark(session, &asked),
        Some("add-trail") => add(session, &asked),
        Some("judge-trails") => {
            let judged = judged(&asked)?;
            let trails = trails(session, &asked)?;
            let changed =
                session.change(|c| judge_trails(c, &trails, Some(judged), Mode::Lasting))?;
            let trails = counted(changed, "trail");
            Ok(format!("{trails} stated to be {}", judged.is.word()))
        }
        Some("remove-trails") => {
            let trails = trails(session, &asked)?;
            let changed = session.change(|c| judge_trails(c, &trails, None, Mode::Lasting))?;
            Ok(format!("{} removed", counted(changed, "trail")))
        }
        Some("undo") => turn(session, Direction::Back, "taken back"),
        Some("redo") => turn(session, Direction::Again, "stated again"),
        _ => Err(unknown("no such act")),
    }
}

fn mark(session: &LookSession, asked: &Value) -> Result<String, Failure> {
    let frames = numbers(&asked["frames"])?;
    if !frames.iter().all(|id| session.has(*id)) {
        return Err(unknown("a frame is not on this page"));
    }
    let said = LookSaid {
        looked: asked.get("looked").map(as_bool).transpose()?,
        chosen: match asked.get("chosen") {
            None => None,
            Some(Value::Null) => Some(None),
            Some(value) => Some(Some(as_bool(value)?)),
        },
        note: match asked.get("note") {
            None => None,
            Some(text) => Some(parse_note(
                text.as_str().ok_or_else(|| unknown("a note is text"))?,
            )?),
        },
    };
    let words = words_of(&said);
    let marked = session.change(|c| mark_frames(c, &frames, &said, Mode::Lasting))?;
    Ok(format!("{}: {words}", counted(marked.frames, "frame")))
}

fn words_of(said: &LookSaid) -> String {
    let mut words = Vec::new();
    words.extend(
        said.looked
            .map(|looked| if looked { "looked at" } else { "not looked at" }),
    );
    words.extend(said.chosen.map(|chosen| match chosen {
        Some(true) => "chosen",
        Some(false) => "not chosen",
        None => "neither chosen nor not",
    }));
    words.extend(said.note.as_ref().map(|note| match note {
        Some(_) => "note saved",
        None => "note removed",
    }));
    words.join(", ")
}

fn add(session: &LookSession, asked: &Value) -> Result<String, Failure> {
    let frame_id = asked["frame"]
        .as_i64()
        .filter(|id| session.has(*id))
        .ok_or_else(|| unknown("the frame is not on this page"))?;
    let point = |key: &str| {
        let at = asked[key].as_array().map(Vec::as_slice);
        let point = match at {
            Some([x, y]) => x.as_f64().zip(y.as_f64()),
            _ => None,
        };
        point
            .and_then(|(x, y)| PicturePoint::from_px(x, y))
            .ok_or_else(|| unknown("an end of the trail is not a point of the picture"))
    };
    let ends = TrailEnds {
        from: point("from")?,
        to: point("to")?,
    };
    let judged = judged(asked)?;
    session.change(|c| add_trail(c, frame_id, ends, judged, Mode::Lasting))?;
    Ok(format!("trail added: {}", judged.is.word()))
}

fn judged(asked: &Value) -> Result<Judgement, Failure> {
    let is = asked["is"].as_str().and_then(TrailIs::from_word);
    let shower = asked["shower"].as_str().map(parse_shower).transpose()?;
    judgement(is.ok_or_else(|| unknown("no such kind of trail"))?, shower)
}

/// The numbers of trails in frames of the page.
fn trails(session: &LookSession, asked: &Value) -> Result<TrailNumbers, Failure> {
    let list = |key: &str| match asked.get(key) {
        None => Ok(Vec::new()),
        Some(value) => numbers(value),
    };
    let numbers = TrailNumbers {
        stated: list("trails")?,
        candidates: list("candidates")?,
    };
    if numbers == TrailNumbers::default() {
        return Err(unknown("no trails are named"));
    }
    let catalogue = session.catalogue();
    let of_page = |frame_id: Option<i64>| frame_id.is_some_and(|id| session.has(id));
    for number in &numbers.stated {
        if !of_page(catalogue.trail(*number)?.map(|trail| trail.frame_id)) {
            return Err(unknown("the trail was removed, or is not on this page"));
        }
    }
    for number in &numbers.candidates {
        if !of_page(catalogue.found_trail(*number)?.map(|kept| kept.frame_id)) {
            return Err(unknown(
                "the picture was examined again since, or the candidate is not on this page",
            ));
        }
    }
    Ok(numbers)
}

fn turn(session: &LookSession, direction: Direction, done: &str) -> Result<String, Failure> {
    let is_about = |frame_id| session.has(frame_id);
    let undone = session.change(|c| undo(c, &is_about, direction, Mode::Lasting))?;
    Ok(match undone {
        None => format!("nothing can be {done}"),
        Some(undone) => {
            let frames = counted(undone.frames.len() as u64, "frame");
            format!("{done} in {frames}: {}", undone.statements.join("; "))
        }
    })
}

fn numbers(value: &Value) -> Result<Vec<i64>, Failure> {
    let all = value.as_array().filter(|all| !all.is_empty());
    all.and_then(|all| all.iter().map(Value::as_i64).collect())
        .ok_or_else(|| unknown("no frames or trails are named"))
}

fn as_bool(value: &Value) -> Result<bool, Failure> {
    value
        .as_bool()
        .ok_or_else(|| unknown("yes or no is expected"))
}

fn unknown(why: &str) -> Failure {
    Failure::words(why).hint("reload the page")
}
