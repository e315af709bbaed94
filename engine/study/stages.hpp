#pragma once

#include "engine/study/figures.hpp"
#include "engine/study/jobs.hpp"
#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

/// Fills Result::stages of a job that has run, where the route reads its pieces on their way: how each quantity goes
/// together with the finished coin's channels, which part is accepted at which reading, and which window secures it.
///
/// A window secures a class when at least the target's fraction of the finished coins whose reading lies in it is
/// accepted. Windows run between edges of a hundred cells of about as many pieces, and the one told keeps most pieces
/// of those that pass; an end that cuts nothing is left open. With 95 % confidence all windows that pass are true at
/// once: each is tested at 2.5 % over their number (Clopper & Pearson's lower bound, and Bonferroni's inequality).
/// Tested singly, a reading that tells nothing would have some lucky narrow window among thousands.
/// `like` is the result of the nominal centres: its cells and windows are asked of this job, so that they get bands.
void add_stages(const Study::Prepared& study, const Job& job, Intervals intervals, const Result* like, Result& result);

}  // namespace mintspread::study
