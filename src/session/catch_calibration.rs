//! What the test in hand tells of numbers that were assumed, worked out on a thread when somebody asks for it.

use super::Session;
use super::catch_answers::AskedOf;
use super::task::{Task, Teller, Told};
use crate::plan::{PartId, RowId};
use crate::studies::NoAnswer;
use crate::studies::catch_test::calibrate::{Calibration, CalibrationAsked, calibrate};
use crate::studies::catch_test::nothing_judged::NothingJudged;
use crate::studies::catch_test::prepare::PreparedTest;

/// Readings that somebody doubts: nothing is fitted to them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Doubted {
    /// Rows.
    pub rows: Vec<RowId>,
    /// Gauges.
    pub gauges: Vec<PartId>,
}

/// What the thread tells.
enum CalibrationEvent {
    SoFar(f32),
    Done(Box<Result<CalibratedTest, NoAnswer>>),
}

/// A calibration, with the test that it is of made ready.
pub struct CalibratedTest {
    /// The test.
    pub prepared: PreparedTest,
    /// What it tells.
    pub calibration: Calibration,
}

/// A calibration that somebody asked for.
#[derive(Default)]
pub struct CatchCalibration {
    of: Option<(AskedOf, Doubted)>,
    task: Option<Task<CalibrationEvent>>,
    so_far: f32,
    answer: Option<Result<CalibratedTest, NoAnswer>>,
}

impl CatchCalibration {
    /// Begins one of the test in hand. `wake` is called from the thread whenever there is something to look at.
    pub fn begin(&mut self, session: &Session, doubted: Doubted, wake: impl Fn() + Send + Sync + 'static) {
        let Some(of) = AskedOf::of(session) else { return };
        (self.answer, self.so_far) = (None, 0.0);
        self.of = Some((of.clone(), doubted.clone()));
        self.task = Some(Task::start(wake, move |teller| {
            teller.tell(CalibrationEvent::Done(Box::new(work(&of, &doubted, teller))));
        }));
    }

    /// Takes what came, and drops what is of a test that is another by now.
    pub fn follow(&mut self, session: &Session, doubted: &Doubted) {
        self.take(false);
        let Some((of, of_doubted)) = &mut self.of else { return };
        match AskedOf::of(session) {
            // The newer snapshot says the same, and is known again at once.
            Some(now) if of.is_same(&now) && of_doubted == doubted => *of = now,
            _ => self.forget(),
        }
    }

    fn take(&mut self, waits: bool) {
        let Some(task) = &mut self.task else { return };
        while let Some(event) = task.next(waits) {
            match event {
                CalibrationEvent::SoFar(part) => self.so_far = part,
                CalibrationEvent::Done(answer) => self.answer = Some(*answer),
            }
        }
        if task.has_ended() {
            self.task = None;
            let broke_off = || {
                NoAnswer::impossible("the calibration broke off", "ask again, and tell whoever maintains it")
            };
            self.answer.get_or_insert_with(|| Err(broke_off()));
        }
    }

    /// What came of it; none while it is worked out, or was not asked for.
    pub const fn answer(&self) -> Option<&Result<CalibratedTest, NoAnswer>> {
        self.answer.as_ref()
    }

    /// How much of the work is done, 0 to 1; none where nothing is worked out.
    pub fn so_far(&self) -> Option<f32> {
        self.task.as_ref().map(|_| self.so_far)
    }

    /// Forgets it, and stops the work.
    pub fn forget(&mut self) {
        *self = Self::default();
    }

    /// Stands still until nothing is under way; for whoever has no frames to wait in.
    pub fn wait(&mut self) {
        self.take(true);
    }
}

/// On the thread.
fn work(
    of: &AskedOf,
    doubted: &Doubted,
    teller: &Teller<CalibrationEvent>,
) -> Result<CalibratedTest, NoAnswer> {
    if let Some(why) = NothingJudged::of(&of.test) {
        return Err(why.into());
    }
    let prepared = PreparedTest::of(&of.project, &of.test)?;
    let asked = CalibrationAsked {
        doubted_gauges: doubted.gauges.clone(),
        ..CalibrationAsked::of(&of.test, doubted.rows.clone())
    };
    let calibration =
        calibrate(&prepared.tested(), &asked, &Told { teller, so_far: CalibrationEvent::SoFar })?;
    Ok(CalibratedTest { prepared, calibration })
}
