//! What was measured on the drawing, by the dog's shape: of many cards most are alike in this.

use super::body::Figure;
use super::drawing::Drawing;
use super::measures::Measures;
use crate::names::trade::Sex;
use smol_str::SmolStr;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// What a drawing without its scale hangs on: build, girth in hundredths, ears, tail and sex. Height is no more than the scale.
type Shape = (SmolStr, i64, SmolStr, SmolStr, Option<Sex>);

/// So many shapes are known at once.
const MOST: usize = 4096;

/// Measures of shapes.
#[derive(Debug)]
pub(super) struct Shapes<T>(Mutex<BTreeMap<Shape, Arc<T>>>);

impl<T> Shapes<T> {
    pub(super) const fn new() -> Self {
        Self(Mutex::new(BTreeMap::new()))
    }

    /// The measure of a figure: that of its shape at one height, so that the same card has the same measure whoever came before.
    pub(super) fn of(&self, drawing: &Drawing, figure: &Figure, make: impl FnOnce(&Figure) -> T) -> Arc<T> {
        let Measures { build, girth, .. } = &figure.measures;
        #[allow(clippy::cast_possible_truncation)]
        let hundredths = (girth * 100.0).round() as i64;
        let shape = (build.clone(), hundredths, figure.ears.clone(), figure.tail.clone(), figure.sex);
        let known = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = known().get(&shape) {
            return Arc::clone(known);
        }
        #[allow(clippy::cast_precision_loss)]
        let girth = hundredths as f64 / 100.0;
        let height = drawing.weighs.first().map_or(1.0, |(.., height)| *height);
        let measures = Measures { build: build.clone(), height, girth };
        let made = Arc::new(make(&Figure { measures, ..figure.clone() }));
        let mut known = known();
        if known.len() >= MOST {
            known.clear();
        }
        known.insert(shape, Arc::clone(&made));
        made
    }
}
