//! `schema`: the shapes of what is written, for programs that read it.

use clap::{Args, ValueEnum};
use evenpull_core::schema;
use evenpull_core::visits::record::spark_ddl;

use crate::outcome::{Failure, Outcome};
use crate::terminal::Terminal;

/// Arguments of `schema`.
#[derive(Debug, Args)]
pub(crate) struct SchemaArgs {
    /// Which result
    #[arg(value_enum, default_value_t = Shape::Review)]
    shape: Shape,
    /// The columns of a record as Spark SQL declares them, on one line
    #[arg(long, conflicts_with = "shape")]
    spark_ddl: bool,
}

/// Results that have a schema.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Shape {
    /// `evenpull.review/1`
    Review,
    /// `evenpull.plan/1`
    Plan,
    /// `evenpull.compare/1`
    Compare,
    /// `evenpull.fleet/1`
    Fleet,
    /// `evenpull.record/1`, a line of `review --files-from`
    Record,
}

/// Prints a schema.
///
/// # Errors
/// [`Failure::Output`].
pub(crate) fn run(typed: &SchemaArgs, terminal: &mut Terminal) -> Result<Outcome, Failure> {
    if typed.spark_ddl {
        terminal.say(&spark_ddl())?;
        return Ok(Outcome::Done);
    }
    terminal.say(match typed.shape {
        Shape::Review => schema::REVIEW,
        Shape::Plan => schema::PLAN,
        Shape::Compare => schema::COMPARE,
        Shape::Fleet => schema::FLEET,
        Shape::Record => schema::RECORD,
    })?;
    Ok(Outcome::Done)
}
