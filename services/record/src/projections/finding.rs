//! A thing by its ULID, its subject, or its label. A label that fits several is refused, and the
//! candidates are named: nobody's history is shown by chance.

use crate::domain::view::View;
use crate::failure::Question;
use selachron_schemas::names::Subject;

impl View<'_> {
    /// The subject of that noun that `text` means: a ULID, a subject, or a label (of a species its
    /// common or scientific name).
    ///
    /// # Errors
    /// `NotFound` if there is none at (V, S), `Ambiguous` if a label fits several.
    pub fn find(&self, noun: &'static str, text: &str) -> Result<Subject, Question> {
        let by_id = Subject::parse(&format!("{noun}/{text}"));
        let by_subject = || Subject::parse(text).filter(|subject| subject.noun() == noun);
        if let Some(subject) = by_id.or_else(by_subject) {
            let known = self.exists(&subject) || (noun == "key" && self.key(&subject).is_some());
            return if known { Ok(subject) } else { Err(self.not_found(noun, text)) };
        }
        let mut candidates = self.labelled(noun, text);
        match candidates.len() {
            0 => Err(self.not_found(noun, text)),
            1 => Ok(candidates.remove(0)),
            _ => {
                let candidates = candidates.iter().map(Subject::to_string).collect();
                Err(Question::Ambiguous { label: text.to_owned(), candidates })
            }
        }
    }

    /// Subjects of a noun that bear a label at (V, S), sorted.
    fn labelled(&self, noun: &'static str, label: &str) -> Vec<Subject> {
        if noun == "species" {
            let named = self.species_list().into_iter().filter(|species| species.common_name == label || species.scientific_name == label);
            return named.map(|species| species.id).collect();
        }
        let bearers = self.nursery().index().labels.get(label).map_or(&[][..], Vec::as_slice);
        let known = bearers.iter().filter(|subject| subject.noun() == noun && self.exists(subject));
        known.filter(|subject| self.label(subject).as_deref() == Some(label)).cloned().collect()
    }

    fn not_found(&self, noun: &str, text: &str) -> Question {
        let (day, size) = (self.day(self.as_of()), self.known_at());
        Question::NotFound(format!("no {noun} is known by {text:?} as of {day}, with {size} notes known"))
    }
}
