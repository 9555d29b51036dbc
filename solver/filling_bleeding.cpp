// What vents that have not let out all they should let out once the part is full.
#include "solver/filling_run.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {
/// Flow over that at first below which what is left never comes: own choice, far below what a shop
/// would wait for.
constexpr double least_flow = 1e-6;
} // namespace

bool Filling::has_to_bleed(std::size_t vent) const {
  const auto is_wet = [&](NodeId node) {
    const std::int32_t i = system_.unknown[node];
    return i >= 0 && system_.volume[position(i)] > 0;
  };
  return std::isfinite(problem_.vents[vent].bleed) && !has_bled(vent) &&
         std::ranges::any_of(problem_.vents[vent].nodes, is_wet);
}

/// All is full. The filling goes on if that leaves a vent to bleed.
void Filling::begin_bleeding() {
  filled_at_ = time_;
  is_over_ = true;
  bool has_to = false;
  for (std::size_t v = 0; v < problem_.vents.size(); ++v) {
    has_to = has_to || has_to_bleed(v);
  }
  if (!has_to || result_.reason != ShortReason::none) {
    return;
  }
  is_over_ = false;
  is_bleeding_ = true;
  note_oldest(true);
  result_.bleeding.emplace();
  switch_gates();
  if (!has_active_pump() && !std::isfinite(time_to_next_switch())) {
    stop_bleeding(ShortReason::pressure);
  }
}

void Filling::stop_bleeding(ShortReason reason) {
  result_.bleeding->reason = reason;
  is_over_ = true;
}

/// Until something switches that is known beforehand, or the resin has changed [s]. A batch that
/// does not thicken bleeds on past its gel, so that it is seen how much too late that would be.
double Filling::longest_to_bleed() const {
  const double limit = options_.time_limit.value_or(never) - time_;
  const double left = is_batch_that_thickens() ? time_left() : limit;
  return std::min({left, time_to_next_switch(), longest_for_change()});
}

/// While the resin thickens [s]. Of parcels that come and go the law of the oldest says nothing:
/// steps in which the viscosity in the part changes by a tenth as it did in the last step.
double Filling::longest_for_change() const {
  if (!ages_) {
    return longest_for_age();
  }
  if (!has_active_pump()) {
    return heat_ ? longest_for_age() : never; // at rest all just grows older
  }
  const double gel = gel_age(problem_.resin);
  const double shortest = std::isfinite(gel) ? 1e-3 * gel : 0;
  const double as_before = std::max(0.1 / ages_->pace(), shortest);
  return passed_ > 0 ? as_before : std::min(as_before, longest_for_age());
}

/// Part of a step after which a vent or a stage of a pump is over by its volume, or how many times
/// as long that takes [-]; infinite if none will be. Where parcels differ, what is in the part
/// changes as it is replaced: no more of that than in a step of the filling, or that share of what
/// has passed since something switched, so that long bleeding takes longer and longer steps.
double Filling::share_to_bleed(const Step& step) const {
  double share = never;
  if (ages_ && step.volume > 0) {
    share = (reachable_volume_ + passed_) / options_.steps / step.volume;
  }
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    if (step.strokes[p].volume > 0) {
      const double to_go = pumps_[p].next_stage_volume() - pumps_[p].injected;
      share = std::min(share, to_go / step.strokes[p].volume);
    }
  }
  for (std::size_t v = 0; v < bled_.size(); ++v) {
    if (step.bled[v] > 0 && !has_bled(v)) {
      share = std::min(share, (problem_.vents[v].bleed - bled_[v]) / step.bled[v]);
    }
  }
  return share;
}

/// A step in the full part, up to where a vent has let out what it should, or anything else
/// switches. Nothing is stored, so the flow is steady: one solve tells it, and the next is as long
/// as that says.
Step Filling::bleeding_step() {
  for (Pump& pump : pumps_) {
    pump.forget(); // nothing rises with what is filled any more
  }
  const double longest = longest_to_bleed();
  if (!has_active_pump()) {
    return idle_step(longest);
  }
  trial_end_ = TrialEnd::solved;
  Step step = complementary_step(std::min(longest, std::max(1.0, 1e-2 * filled_at_)));
  constexpr double even = 1e-4;
  for (int pass = 0; pass < 50 && fit_vent_hoses() > even; ++pass) {
    step = complementary_step(step.interval.duration);
  }
  for (int cut = 0; cut < 8; ++cut) {
    const double share = share_to_bleed(step);
    const double wanted = std::min(longest, share * step.interval.duration);
    if (!std::isfinite(wanted) || std::abs(wanted - step.interval.duration) < 1e-9 * wanted) {
      break;
    }
    step = complementary_step(wanted);
  }
  trial_end_ = TrialEnd::beyond_awaited;
  return step;
}

void Filling::look_for_end_of_bleeding(const Step& step) {
  double out = 0;
  bool has_to = false;
  for (std::size_t v = 0; v < bled_.size(); ++v) {
    out += std::isfinite(problem_.vents[v].bleed) ? step.bled[v] / step.interval.duration : 0;
    has_to = has_to || has_to_bleed(v);
    passed_ = step.bled[v] > 0 && has_bled(v) ? 0 : passed_; // it has just closed
  }
  note_oldest(false);
  first_bleeding_ = std::max(first_bleeding_, out);
  if (!has_to) {
    result_.bleeding->ended_at = time_;
    is_over_ = true;
    return;
  }
  if (options_.time_limit && *options_.time_limit - time_ <= 1e-12 * time_) {
    stop_bleeding(ShortReason::time_limit);
    return;
  }
  const bool has_gelled = is_batch_that_thickens() && time_left() <= 1e-12 * time_;
  const bool waits = std::isfinite(time_to_next_switch());
  // The step just done tells nothing of the next one if a pump or gate was switched at its end.
  const bool is_driven = waits || step.impulse.empty() || out > least_flow * first_bleeding_;
  undriven_steps_ = is_driven ? 0 : undriven_steps_ + 1;
  if (has_gelled || (!waits && (!has_active_pump() || undriven_steps_ > 1))) {
    stop_bleeding(has_gelled || is_thick() ? ShortReason::gel : ShortReason::pressure);
  }
}

} // namespace tidemark
