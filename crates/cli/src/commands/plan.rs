//! `plan`: what to turn, which way, how far, what not to do and when to stop; nothing is turned or judged here.

use std::path::{Path, PathBuf};

use evenpull_core::adjust::influence::{Influence, InfluenceError, LearnOptions, learn};
use evenpull_core::adjust::plan::{PlanOptions, plan};
use evenpull_core::adjust::plan_result::Plan;
use evenpull_core::adjust::rounds::of_recording;
use evenpull_core::review::{ReviewNotes, review};
use evenpull_core::settings::Settings;
use evenpull_core::visit_file::VisitFile;
use evenpull_report::{DisplayUnit, PageUnit, slug, stem, write};

use super::plan_text::plan_text;
use crate::args::PlanArgs;
use crate::outcome::{Failure, Outcome};
use crate::plan::{Json, ReadPlan, known_unit};
use crate::terminal::Terminal;

/// A plan that is asked for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Request {
    read: ReadPlan,
    visit: Option<PathBuf>,
    ruled_out: Vec<String>,
    unit: Option<PageUnit>,
    json: Json,
    folder: Option<PathBuf>,
}

impl TryFrom<PlanArgs> for Request {
    type Error = Failure;

    fn try_from(typed: PlanArgs) -> Result<Self, Failure> {
        let ruled_out = typed.ruled_out.iter().map(|c| c.trim().to_lowercase().replace([' ', '_'], "-"));
        Ok(Self {
            read: typed.read.try_into()?,
            visit: typed.visit,
            ruled_out: ruled_out.filter(|c| !c.is_empty()).collect(),
            unit: typed.unit.map(|unit| known_unit(&unit)).transpose()?,
            json: match typed.json {
                None => Json::Beside,
                Some(path) if path == Path::new("-") => Json::Stream,
                Some(path) => Json::File(path),
            },
            folder: typed.out,
        })
    }
}

/// Makes the plan and shows it.
///
/// # Errors
/// A [`Failure`] when a file cannot be read, understood or written.
pub(crate) fn run(request: &Request, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    let visit = request.visit.as_deref().map(read_visit).transpose()?.unwrap_or_default();
    let (recording, machine) = request.read.carry_out()?;
    let notes = ReviewNotes { codes: visit.codes_noted.clone() };
    let analysis = review(&recording, &machine, &Settings::default(), &notes);
    let learned = (!visit.turns.is_empty())
        .then(|| learn(&of_recording(&analysis, &visit.turns), &LearnOptions::default()));
    let (influence, not_learned): (Option<Influence>, Option<InfluenceError>) = match learned {
        None => (None, None),
        Some(Ok(influence)) => (Some(influence), None),
        Some(Err(why)) => (None, Some(why)),
    };
    let options = PlanOptions { ruled_out: request.ruled_out.clone(), not_learned, ..PlanOptions::default() };
    let made = plan(&analysis.review, &machine, influence.as_ref(), &options);

    if request.json == Json::Stream {
        terminal.say(&json(&made)?)?;
    } else {
        let unit = DisplayUnit::choose(request.unit, &analysis.context, analysis.review.barometer_kpa);
        terminal.say(&plan_text(&made, &unit))?;
    }
    if let Json::File(path) = &request.json {
        write::file(path, json(&made)?.as_bytes()).map_err(Failure::result)?;
    }
    if let Some(folder) = &request.folder {
        let path = folder.join(format!("{}-plan.json", slug(stem(&made.source.name))));
        write::file(&path, json(&made)?.as_bytes()).map_err(Failure::result)?;
        if request.json != Json::Stream {
            let shown = path.to_string_lossy();
            terminal.say(&format!("\nPlan: {}", evenpull_core::safe_text::one_line(&shown)))?;
        }
    }
    Ok(Outcome::Done)
}

/// The plan as it is written to disk: indented JSON.
fn json(plan: &Plan) -> Result<String, Failure> {
    serde_json::to_string_pretty(plan).map_err(Failure::result)
}

/// Reads and understands a visit file.
fn read_visit(path: &Path) -> Result<VisitFile, Failure> {
    let text = std::fs::read_to_string(path).map_err(|e| Failure::file(path, e))?;
    VisitFile::from_toml(&path.to_string_lossy(), &text).map_err(|e| Failure::file(path, e))
}
