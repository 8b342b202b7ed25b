//! What was turned and what to turn.

pub mod advice;
pub mod causes;
mod desk;
pub mod effects;
pub mod history;
pub mod influence;
mod orders;
pub mod outlook;
pub mod plan;
pub mod plan_result;
pub mod rounds;
pub mod steps;
pub mod test_turn;
pub mod turns;
mod way;
