//! The pages beside a ranking: one per machine, one per log, named so that they are found again.

use std::collections::BTreeMap;
use std::path::Path;

use evenpull_core::Analysis;
use evenpull_core::visits::comparison::Comparison;
use evenpull_core::visits::{Ranked, Visit};
use evenpull_report::{CompareLinks, PageOptions, compare_page, review_page, slug, stem, write};
use rayon::prelude::*;

use crate::commands::fleet_args::FleetPlan;
use crate::outcome::Failure;

/// Folder of the machines' pages and results, beside the ranking.
pub(crate) const MACHINES: &str = "machines";

/// Name of the ranking's files without ending.
pub(crate) const INDEX: &str = "fleet";

/// Folder of the logs' pages, beside the ranking.
const LOGS: &str = "logs";

/// Pages of a fleet come without picture files: thousands of them would cost more than the ranking.
const OPTIONS: PageOptions = PageOptions { unit: None, without_png: true };

/// Name of a machine's files without ending.
pub(crate) fn machine_name(id: &str) -> String {
    format!("{}-visits", slug(id))
}

/// Name of a log's page without ending: logs of one name in several folders do not meet.
fn log_name(source: &str, visit: &str) -> String {
    slug(&format!("{}-{visit}", stem(source)))
}

/// Whether the page of a visit's log is there.
pub(crate) fn has_log_page(folder: &Path, source: &str, visit: &str) -> bool {
    folder.join(LOGS).join(format!("{}.html", log_name(source, visit))).is_file()
}

/// Writes the page of a log.
///
/// # Errors
/// Why it cannot be made or written.
pub(crate) fn log_page(plan: &FleetPlan, analysis: &Analysis, visit: &Visit) -> Result<(), String> {
    let options = PageOptions { unit: plan.unit, ..OPTIONS };
    let page = review_page(analysis, &options).map_err(|e| e.to_string())?;
    let name = log_name(&visit.source, &visit.visit);
    write::page_set(&plan.folder.join(LOGS), &name, &page, None).map_err(|e| e.to_string())?;
    Ok(())
}

/// Writes the page of every machine and notes it in the ranking.
///
/// # Errors
/// A [`Failure`] when a page cannot be made or written.
pub(crate) fn machine_pages(ranked: &mut Ranked, plan: &FleetPlan) -> Result<(), Failure> {
    let folder = plan.folder.join(MACHINES);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(plan.threads).build().map_err(Failure::result)?;
    let one = |comparison: &Comparison| -> Result<String, Failure> {
        let reviews: BTreeMap<String, String> = comparison
            .visits
            .iter()
            .filter(|v| has_log_page(&plan.folder, &v.source, &v.visit))
            .map(|v| (v.visit.clone(), format!("../{LOGS}/{}.html", log_name(&v.source, &v.visit))))
            .collect();
        let links = CompareLinks { reviews, ranking: Some(format!("../{INDEX}.html")) };
        let page = compare_page(comparison, plan.display(), &OPTIONS, &links).map_err(Failure::result)?;
        let name = machine_name(comparison.machine.as_deref().unwrap_or_default());
        write::page_set(&folder, &name, &page, None).map_err(Failure::result)?;
        Ok(format!("{MACHINES}/{name}.html"))
    };
    let written: Vec<String> =
        pool.install(|| ranked.comparisons.par_iter().map(one).collect::<Result<_, _>>())?;
    for (machine, page) in ranked.fleet.machines.iter_mut().zip(written) {
        machine.report = Some(page);
    }
    Ok(())
}
