//! The project in hand: a thin front that keeps document, editor and solved state of one state.
//!
//! Every change goes through [`Session::edit`] or an open step, and is solved before anybody can look. Never here:
//! what a tool does (see the files beside this one), the file, the history, or the solve itself.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::copied::Copied;
use super::document::ProjectDocument;
use super::editor::Editor;
use super::refusal::{Refusal, Remark, Reply};
use super::selected::Selection;
use super::snap::SnapSettings;
use super::solved::SolvedRouting;
use super::tool::{Gesture, Tool};
use crate::checks::Finding;
use crate::files::recovery::Origin;
use crate::files::{self, Notes};
use crate::hydraulics::Outcome;
use crate::hydraulics::speed_range::SpeedRange;
use crate::plan::edit::EditError;
use crate::plan::{
    CatchTestId, Edit, LaidRouting, OperatingPoint, PartKey, Project, Routing, RoutingGeometry, Subject,
};
use crate::quantities::{Angle, Speed, Temperature};

/// One open project.
#[derive(Debug)]
pub struct Session {
    pub(super) document: ProjectDocument,
    pub(super) editor: Editor,
    pub(super) solved: SolvedRouting,
    /// The catch test that was chosen; what is shown is [`Session::catch_test`].
    pub(super) catch_test_in_hand: Option<CatchTestId>,
}

impl Session {
    /// Opens a project, on its first routing, at its usual speed.
    pub fn new(project: Project, path: Option<PathBuf>) -> Self {
        Self::with(ProjectDocument::new(project, path))
    }

    fn with(document: ProjectDocument) -> Self {
        let solved = SolvedRouting::new(document.project());
        let editor = Editor::new(solved.routing_id());
        Self { document, editor, solved, catch_test_in_hand: None }
    }

    /// A copy of all of it, history too: what is done to it is seen only where it takes the place of this one.
    pub(super) fn twin(&self) -> Self {
        Self {
            document: self.document.clone(),
            editor: self.editor.clone(),
            solved: self.solved.twin(),
            catch_test_in_hand: self.catch_test_in_hand,
        }
    }

    /// A project that is in no file as it is here: laid out anew, or found after a crash. The file it belongs to, if
    /// any, stays as it is until it is saved.
    pub fn unsaved(project: Project, path: Option<PathBuf>) -> Self {
        Self::with(ProjectDocument::unsaved(project, path))
    }

    /// Work found after a crash, with the file it belongs to. That file is known as it was when the work was kept:
    /// whoever has changed it since is asked about before it is saved over.
    pub fn recovered(project: Project, origin: Option<Origin>) -> Self {
        Self::with(ProjectDocument::recovered(project, origin))
    }

    /// Opens a file.
    pub fn open(path: &Path) -> Result<Self, Refusal> {
        let (project, mut notes) = files::open_with_notes(path)?;
        if let Some(older) = files::older_project(path) {
            // Before anything is done about it.
            notes.push(format!(
                "The file is in version {older} of the format; saved, it will be in version {}, which an older Equirow can't \
                 open",
                files::VERSION
            ));
        }
        files::remember(path);
        Ok(Self::with(ProjectDocument::new(project, Some(path.to_owned())).with_notes(notes)))
    }

    /// The same with more to say about what was opened, in sentences.
    #[must_use]
    pub fn with_notes(self, notes: Vec<String>) -> Self {
        Self { document: self.document.with_notes(notes), ..self }
    }

    /// What could not be taken over from the file as it is there, in sentences.
    pub fn notes_on_opening(&self) -> &[String] {
        self.document.notes()
    }

    /// Saves to a file, whole or not at all; a gesture that is going on ends first. The notes say what the file could
    /// not keep of the one before.
    pub fn save(&mut self, path: &Path) -> Result<Notes, Refusal> {
        self.release()?;
        self.commit()?;
        Ok(self.document.save(path)?)
    }

    /// The file it belongs to, as it was when it was opened or saved.
    pub fn origin(&self) -> Option<Origin> {
        self.document.origin()
    }

    /// The file it came from or was saved to.
    pub fn path(&self) -> Option<&Path> {
        self.document.path()
    }

    /// The file is not as it was when it was opened or saved: someone else has changed or removed it.
    pub fn changed_on_disk(&self) -> bool {
        self.document.changed_on_disk()
    }

    /// The file it belongs to is not there any more.
    pub fn file_is_gone(&self) -> bool {
        self.document.file_is_gone()
    }

    /// Takes the file as it is now for known, so that it is not warned of again.
    pub fn accept_disk(&mut self) {
        self.document.accept_disk();
    }

    /// Counts as saved what stands in the file now, since somebody else has changed it: work that is nowhere but here is
    /// unsaved from then on, whoever edited what.
    pub fn look_at_disk(&mut self) {
        self.document.look_at_disk();
    }

    /// The project as it is now.
    pub fn project(&self) -> &Project {
        self.document.project()
    }

    /// The same, to keep while work goes on: later changes leave it as it is.
    pub fn snapshot(&self) -> Arc<Project> {
        Arc::clone(self.document.shared())
    }

    /// Counts the changes of the project, those within a gesture among them; operating points looked at don't count.
    pub const fn edits(&self) -> u64 {
        self.document.edits()
    }

    /// There are changes that are in no file. Found at the end of each step, so that asking costs nothing; undoing or
    /// taking back by hand what was changed counts as no change.
    pub const fn is_changed(&self) -> bool {
        self.document.is_changed()
    }

    /// The step that undo would take back.
    pub fn undo_name(&self) -> Option<&str> {
        self.document.history().undo_name()
    }

    /// The step that redo would do again.
    pub fn redo_name(&self) -> Option<&str> {
        self.document.history().redo_name()
    }

    /// A step is open.
    pub const fn is_in_step(&self) -> bool {
        self.document.history().is_open()
    }

    /// The routing in hand.
    pub fn routing(&self) -> &Routing {
        self.routing_in(self.project())
    }

    /// The same in a snapshot.
    pub fn routing_in<'project>(&self, project: &'project Project) -> &'project Routing {
        self.solved.routing_in(project)
    }

    /// The routing in hand as it was before the step that is open, or as it is.
    pub(super) fn routing_before(&self) -> &Routing {
        self.routing_in(self.document.before().unwrap_or_else(|| self.document.shared()))
    }

    /// Where it is solved.
    pub const fn point(&self) -> &OperatingPoint {
        self.solved.point()
    }

    /// Looks at another ground speed; changes no project.
    pub fn look_at_speed(&mut self, speed: Speed) {
        if speed.is_finite() && speed.si() > 0.0 {
            self.look_at(OperatingPoint { speed, ..*self.point() });
        }
    }

    /// Looks at another temperature of the liquid; changes no project.
    pub fn look_at_temperature(&mut self, temperature: Temperature) {
        if temperature.is_finite() {
            self.look_at(OperatingPoint { temperature, ..*self.point() });
        }
    }

    /// Looks at another side slope; changes no project.
    pub fn look_at_side_slope(&mut self, slope: Angle) {
        if slope.si().abs() < 0.8 {
            self.look_at(OperatingPoint { side_slope: slope, ..*self.point() });
        }
    }

    /// Looks at another fore-aft slope; changes no project.
    pub fn look_at_fore_aft_slope(&mut self, slope: Angle) {
        if slope.si().abs() < 0.8 {
            self.look_at(OperatingPoint { fore_aft_slope: slope, ..*self.point() });
        }
    }

    fn look_at(&mut self, point: OperatingPoint) {
        self.solved.look_at(self.document.project(), point);
    }

    /// What has become of what was half made or looked at without being asked for, told once.
    pub fn take_remark(&mut self) -> Option<Remark> {
        self.editor.given_up.take().or_else(|| self.solved.take_remark())
    }

    /// A new number with every solve, of this or any other session: whoever drew at the same number drew what is
    /// still so.
    pub const fn revision(&self) -> u64 {
        self.solved.revision()
    }

    /// What flows now.
    pub fn outcome(&self) -> &Outcome {
        self.solved.outcome()
    }

    /// What flows at the slowest, usual and fastest speed.
    pub fn range(&self) -> &SpeedRange {
        self.solved.range()
    }

    /// Where all of the routing in hand lies.
    pub fn geometry(&self) -> &RoutingGeometry {
        self.solved.geometry()
    }

    /// The routing in hand and where it lies.
    pub fn laid(&self) -> LaidRouting<'_> {
        self.solved.laid(self.project())
    }

    /// What is to be said about it.
    pub fn findings(&self) -> &[Finding] {
        self.solved.findings()
    }

    /// The tool in hand.
    pub const fn tool(&self) -> &Tool {
        &self.editor.tool
    }

    /// What is going on, for drawing it.
    pub const fn gesture(&self) -> &Gesture {
        &self.editor.gesture
    }

    /// What is selected.
    pub const fn selection(&self) -> &BTreeSet<Subject> {
        self.editor.selection.things()
    }

    /// Selects these things and nothing else.
    pub fn select(&mut self, subjects: impl IntoIterator<Item = Subject>) {
        self.editor.selection.set(subjects);
    }

    /// Adds a thing to what is selected, or takes it out.
    pub fn toggle(&mut self, subject: Subject) {
        self.editor.selection.toggle(subject);
    }

    /// What placed and dragged things snap to.
    pub const fn snapping(&self) -> SnapSettings {
        self.editor.snapping
    }

    /// Changes what placed and dragged things snap to.
    pub const fn set_snapping(&mut self, settings: SnapSettings) {
        self.editor.snapping = settings;
    }

    /// Snaps, or places freely from now on.
    pub const fn switch_snapping(&mut self) {
        self.editor.snapping.on = !self.editor.snapping.on;
    }

    /// What was copied last.
    pub const fn copied(&self) -> &Copied {
        &self.editor.copied
    }

    /// Changes the project in one named step, whole or not at all.
    pub fn edit(&mut self, name: &str, edits: impl IntoIterator<Item = Edit>) -> Result<(), Refusal> {
        self.give_up_gesture();
        self.begin(name);
        if let Err(refusal) = self.change_all(edits) {
            self.revert();
            return Err(refusal);
        }
        self.commit()
    }

    /// The same for what may be refused before it comes to edits; says so where nothing had to be changed.
    pub(super) fn edit_unless_so<R: Into<Refusal>>(
        &mut self,
        name: &str,
        edits: Result<Vec<Edit>, R>,
    ) -> Reply {
        let edits = edits.map_err(Into::into)?;
        let before = self.snapshot();
        self.edit(name, edits)?;
        let is_so_already = Arc::ptr_eq(&before, self.document.shared());
        Ok(is_so_already.then(|| Remark::AlreadySo { step: name.to_owned() }))
    }

    /// Opens a named step for a gesture.
    pub fn begin(&mut self, name: &str) {
        let selection = self.editor.selection.clone();
        self.document.begin(name, selection);
    }

    /// One change within the open step; solved at once.
    pub fn change(&mut self, edit: Edit) -> Result<(), Refusal> {
        self.change_all([edit])
    }

    /// Several changes within the open step, all or none; solved once after the last.
    pub fn change_all(&mut self, edits: impl IntoIterator<Item = Edit>) -> Result<(), Refusal> {
        let before = self.snapshot();
        if let Err(error) = self.document.apply(edits) {
            self.document.go_back(before);
            return Err(error.into());
        }
        self.settle(&before);
        Ok(())
    }

    /// Several changes of the routing in hand within the open step, all or none; solved once after the last. What a
    /// gesture does in every frame: no copy is made of anything else.
    pub(super) fn change_routing(
        &mut self,
        change: impl FnOnce(&mut Self) -> Result<(), EditError>,
    ) -> Result<(), Refusal> {
        let Some(kept) = self.document.keep(self.routing().id) else { return Ok(()) };
        if let Err(error) = change(self) {
            self.document.restore(kept);
            return Err(error.into());
        }
        self.document.count();
        // What is asked stays, and with it the point looked at.
        let project = self.document.project();
        self.solved.solve_without_waiting(project);
        self.editor.keep_to(project, self.solved.routing_in(project));
        Ok(())
    }

    /// Lengths at hinges are being computed while something is dragged: what rests on them is not current.
    pub fn awaits_lengths(&self) -> bool {
        self.solved.awaits_lengths()
    }

    /// The findings are of what is shown; while something is dragged they may be of what it was a moment ago.
    pub const fn has_found(&self) -> bool {
        self.findings_revision() == self.revision()
    }

    /// Something is dragged, and findings follow it from a thread.
    pub const fn follows_drag(&self) -> bool {
        self.solved.is_dragged()
    }

    /// The revision that the findings are of.
    pub const fn findings_revision(&self) -> u64 {
        self.solved.findings_revision()
    }

    /// Has lengths at hinges and findings that a drag left open worked out on threads, and takes what is ready; true while
    /// some of it is under way. `wake` is called from those threads when there is something to take.
    pub fn keep_computing(&mut self, wake: impl Fn() + Send + Sync + Clone + 'static) -> bool {
        self.solved.keep_computing(self.document.shared(), wake)
    }

    /// Solves what has changed since.
    pub(super) fn settle(&mut self, before: &Arc<Project>) {
        if self.document.has_changed_since(before) {
            self.follow(before);
        }
    }

    /// Brings editor and solved state in line with the project, which is another than it was.
    fn follow(&mut self, before: &Project) {
        let project = self.document.project();
        self.solved.follow(before, project);
        self.solve_anew();
    }

    pub(super) fn solve_anew(&mut self) {
        let project = self.document.project();
        self.solved.solve_anew(project);
        self.editor.keep_to(project, self.solved.routing_in(project));
    }

    /// Ends the open step; one that left the plan unsound is taken back.
    pub fn commit(&mut self) -> Result<(), Refusal> {
        let done = self.document.commit();
        if done.is_err() {
            self.revert();
        } else if self.awaits_lengths() {
            // Nothing is dragged any more: what comes next reads lengths that are computed.
            self.solve_anew();
        } else {
            self.solved.find(self.document.project());
        }
        Ok(done?)
    }

    /// Ends the open step as if it had not been.
    pub fn revert(&mut self) {
        if let Some((left, selection)) = self.document.revert() {
            self.show_step(&left, selection);
        }
    }

    /// Shows what was undone or done again: the routing it was in, or the first if that is gone, with what was selected.
    fn show_step(&mut self, left: &Project, selection: Selection) {
        let project = self.document.project();
        let wanted = [selection.routing(), self.solved.routing_id()];
        self.editor.selection = selection;
        self.solved.turn_to_one_of(project, wanted);
        self.solved.follow(left, project);
        self.solved.show_changed_duty(left, project);
        self.solve_anew();
    }

    /// Takes the last step back; during a gesture, cancels that. Says which step it was.
    pub fn undo(&mut self) -> Option<Remark> {
        if self.is_in_step() || self.editor.is_busy() {
            let step = self.document.history().open_name().map(str::to_owned);
            self.cancel_gesture();
            return step.map(Remark::Undone);
        }
        let step = self.undo_name()?.to_owned();
        let (left, selection) = self.document.undo(&self.editor.selection)?;
        self.show_step(&left, selection);
        Some(Remark::Undone(step))
    }

    /// Does the last undone step again; not during a gesture. Says which step it was.
    pub fn redo(&mut self) -> Option<Remark> {
        if self.is_in_step() || self.editor.is_busy() {
            return None;
        }
        let step = self.redo_name()?.to_owned();
        let (left, selection) = self.document.redo(&self.editor.selection)?;
        self.show_step(&left, selection);
        Some(Remark::Redone(step))
    }

    /// Ends the gesture as if it had not been; true if there was one.
    pub fn cancel_gesture(&mut self) -> bool {
        self.editor.snapped = None;
        let was = !matches!(std::mem::take(&mut self.editor.gesture), Gesture::None) || self.is_in_step();
        self.revert();
        was
    }

    /// Takes a tool in hand.
    pub fn take(&mut self, tool: Tool) {
        self.give_up_gesture();
        self.editor.placing_turn = Angle::ZERO;
        self.editor.tool = tool;
        self.editor.chosen_size = None;
    }

    /// Takes a part of a chosen size in hand, which then goes as it is into hoses of any bore.
    pub fn take_size(&mut self, entry: PartKey) {
        self.take(Tool::Place(entry.clone()));
        self.editor.chosen_size = Some(entry);
    }

    /// The tag of something, as people read it.
    pub fn tag_of(&self, subject: Subject) -> String {
        self.routing().tag_of(subject, &self.project().bar)
    }
}
