//! `propose`: which settings and ways would do what a plan leaves open?

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use anyhow::{Result, anyhow};

use super::embedded::DEMO;
use super::output::Format;
use super::progress::Bar;
use super::{edited, kept, output};
use crate::files::{self, Embedded, PlanPath, Source, unknown_name};
use crate::model::{Deed, PlanEdit, Project, Stature};
use crate::propose::{self, Proposal, anew};
use crate::report;

/// Find stands, detents, configurations and waypoints that a plan leaves open
#[derive(clap::Args)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// Look for everything anew, whatever the plan has
    #[arg(long, conflicts_with = "only")]
    anew: bool,
    /// Look for one worksite, or for the waypoints of one step, whatever the plan has there
    #[arg(long, value_name = "WORKSITE|STEP")]
    only: Option<String>,
    /// Settings that serve riders of these statures, too: percentiles, such as women:5,men:95
    #[arg(long, value_name = "SIZE", value_delimiter = ',')]
    sizes: Vec<Stature>,
    /// Write a copy of the plan with the proposal in it into a new or empty folder, and check it
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// What is written to stdout
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    #[command(flatten)]
    kept: kept::Args,
}

/// Searches, writes what was found, and has the written plan checked.
///
/// # Errors
/// The plan's mistakes, an unknown name, a folder that cannot be written, a request to stop.
pub fn run(args: &Args) -> Result<ExitCode> {
    match &args.plan {
        Some(path) => {
            let (disk, plan) = files::plan_at(path)?;
            propose_from(&disk, &plan, args)
        }
        None => propose_from(&Embedded { files: DEMO }, &PlanPath::plan(), args),
    }
}

fn propose_from(source: &dyn Source, plan: &PlanPath, args: &Args) -> Result<ExitCode> {
    let loaded = files::read_open(source, plan)?;
    let mut project = loaded.project.clone();
    let (open, mut edits) = match &args.only {
        Some(name) => only(&mut project, &loaded.open, name)?,
        None if args.anew => anew::everything(&mut project),
        None => (loaded.open.clone(), Vec::new()),
    };
    if let Some(folder) = &args.out {
        files::is_new(folder)?;
    }
    let sizes: Vec<String> = args.sizes.iter().map(ToString::to_string).collect();
    let asked = format!("{} {} {}", args.anew, args.only.as_deref().unwrap_or_default(), sizes.join(","));
    let kept = args.kept.open(&loaded.inputs, &asked)?;
    let stop = Arc::clone(&kept.stop);
    let of = propose::Asked { open: &open, sizes: &args.sizes };
    let found = propose::propose((&project, &loaded.meshes), of, &kept.memory, &Bar::new(), &stop);
    let proposal = kept.close(found)?;
    edits.extend(proposal.edits.iter().cloned());
    let is_told = args.format == Format::Text;
    let told = match args.format {
        Format::Text => {
            report::proposal(&project, &proposal, output::ink(None))
                + &taken_out(args, &edits)
                + &served_too(&proposal, &sizes)
        }
        Format::Json => report::proposal_json((&project, &loaded.inputs), &proposal, &edits)?,
    };
    output::deliver(told.as_bytes(), None)?;
    if proposal.unsettled.is_some() {
        return Ok(ExitCode::from(1));
    }
    match &args.out {
        Some(folder) => {
            let written = edited::copy_with(source, plan, &edits, folder)?;
            let wrote = format!("\nwrote {}; ", folder.display());
            edited::check_again(&written, is_told.then_some((wrote.as_str(), folder.as_path())), &stop)
        }
        None => {
            let is_kept = proposal.violations.is_empty();
            if is_told {
                let heading = if is_kept { "" } else { "\nwith it the plan breaks limits:\n" };
                let violated = report::violated(&proposal.violations);
                let nothing = "\nnothing is written; --out DIR writes a copy of the plan with it and checks that\n";
                output::deliver(format!("{heading}{violated}{nothing}").as_bytes(), None)?;
            }
            Ok(ExitCode::from(u8::from(!is_kept)))
        }
    }
}

/// That riders of other statures are served, too, where that was asked.
fn served_too(proposal: &Proposal, sizes: &[String]) -> String {
    if sizes.is_empty() || proposal.unsettled.is_some() || !proposal.violations.is_empty() {
        return String::new();
    }
    format!("checked as a whole with a rider of {}, too: no limit is violated\n", sizes.join(", and of "))
}

/// Which waypoints a proposal for one worksite does away with on the ways to it and from it.
fn taken_out(args: &Args, edits: &[PlanEdit]) -> String {
    let mut steps: Vec<(&str, usize)> = Vec::new();
    for edit in edits {
        let PlanEdit::RemoveWaypoint { step, .. } = edit else { continue };
        match steps.iter_mut().find(|(known, _)| known == step) {
            Some((_, count)) => *count += 1,
            None => steps.push((step, 1)),
        }
    }
    if args.only.is_none() || steps.is_empty() {
        return String::new();
    }
    let told: Vec<String> = steps.iter().map(|(step, count)| format!("{count} of {step}")).collect();
    format!("waypoints that the plan had, looked for anew as they touch what was asked for: {}\n", told.join(", "))
}

/// What is to be looked for where one name is given; everything else stays as it is.
fn only(project: &mut Project, open: &[files::OpenSite], name: &str) -> Result<(Vec<files::OpenSite>, Vec<PlanEdit>)> {
    let is_site = project.plan.worksite.iter().any(|site| site.id == name);
    let steps = project.plan.step.iter().enumerate().filter(|(_, step)| step.deed == Deed::Transit);
    let steps: Vec<String> = steps.map(|(number, step)| step.id_at(number)).collect();
    if !is_site && !steps.iter().any(|step| step == name) {
        let sites = project.plan.worksite.iter().map(|site| site.id.as_str());
        return Err(unknown_name(name, "worksite or transit", sites.chain(steps.iter().map(String::as_str))));
    }
    if let Some(other) = open.iter().find(|site| site.worksite != name) {
        return Err(anyhow!(
            "`{}` is open, too; expected a plan in which nothing else is, or no `--only`: then all that is open is looked for, \
             as one setting hangs on the other",
            other.worksite
        ));
    }
    if is_site {
        let (mut sites, edits) = anew::worksite(project, name);
        for site in &mut sites {
            site.second_detents = open.iter().any(|open| open.second_detents);
        }
        return Ok((sites, edits));
    }
    Ok((Vec::new(), anew::step(project, name)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_worksite_is_left_open_with_the_waypoints_on_either_side() {
        let mut project = files::read_embedded(DEMO).expect("the demo reads").project;
        let (open, edits) = only(&mut project, &[], "tray").expect("it is there");
        assert_eq!(open.iter().map(|site| site.worksite.as_str()).collect::<Vec<_>>(), ["tray"]);
        let steps: Vec<String> = edits.iter().map(ToString::to_string).collect();
        assert_eq!(steps, ["waypoint 1 of to-tray taken out", "waypoint 1 of to-valves taken out"]);
    }

    #[test]
    fn an_unknown_name_is_answered_with_the_nearest_one() {
        let mut project = files::read_embedded(DEMO).expect("the demo reads").project;
        let told = only(&mut project, &[], "trai").expect_err("there is none").to_string();
        assert_eq!(told, "`trai` is no worksite or transit of this plan; nearest: `tray`");
    }
}
