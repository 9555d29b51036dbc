// Age, gel and heat of the resin during a filling.
#include "solver/filling_run.hpp"

#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

/// Shares of the gel time at the inlet that steps need not be shorter than with heat: own choice. A
/// hundredth of what resin takes that ages so many times faster, and where it runs away no less
/// than a ten-thousandth.
double shortest_share(double ageing) {
  return std::max(1e-2 / std::max(ageing, 1.0), 1e-4);
}

} // namespace

bool Filling::is_batch_that_thickens() const {
  return !ages_ && thickens(problem_.resin);
}

/// Of resin that is all of one age [s].
double Filling::batch_age() const {
  return problem_.resin.mixed_before + time_;
}

/// The viscosity that u is taken at over a step from now on [Pa s]. All of one age: such that
/// duration / mu is the integral of dt / mu, in which the filling at a pressure is exact. Else that
/// of the fresh resin; the links are scaled to the viscosities there.
double Filling::viscosity(double duration) const {
  if (!is_batch_that_thickens()) {
    return problem_.resin.viscosity;
  }
  return duration > 0
             ? duration / fluidity_time(problem_.resin, batch_age(), batch_age() + duration)
             : viscosity_at(problem_.resin, batch_age());
}

double Filling::viscosity_ratio(std::int32_t unknown) const {
  return ages_ ? ages_->ratio()[position(unknown)] : 1;
}

/// Age of the oldest resin that still moves [s]; none while there is but what fills gates' own
/// cells, mixed with what comes.
std::optional<double> Filling::oldest_moving() const {
  if (!ages_ || !std::isfinite(standstill_age_)) {
    return batch_age();
  }
  if (const double gels_at = ages_->next_front_gel(); std::isfinite(gels_at)) {
    return standstill_age_ - (gels_at - time_);
  }
  return longest_for_cells() < never ? std::nullopt : std::optional(batch_age());
}

/// Steps in which the viscosity of the oldest resin grows by a tenth, but no shorter than a
/// thousandth of its gel time.
double Filling::longest_for_age() const {
  if (heat_) {
    const auto [thickening, ageing] = heat_->pace(fill_, ages_->mixed_at(), time_);
    const double longest = thickening > 0 ? 0.1 / thickening : never;
    const double gel = gel_age(problem_.resin);
    return std::isfinite(gel) ? std::max(longest, gel * shortest_share(ageing)) : longest;
  }
  if (!thickens(problem_.resin)) {
    return never;
  }
  const std::optional<double> oldest = oldest_moving();
  if (!oldest) {
    return never;
  }
  const double shortest =
      std::isfinite(gel_age(problem_.resin)) ? 1e-3 * gel_age(problem_.resin) : 0;
  return std::max(0.1 / thickening_rate(problem_.resin, *oldest), shortest);
}

/// Until resin at the front gels [s], at its temperature now; no shorter than steps need be.
double Filling::time_to_front_gel() const {
  const double to_gel = ages_ ? ages_->next_front_gel() - time_ : never;
  if (!heat_ || !std::isfinite(to_gel)) {
    return to_gel;
  }
  const double ageing = heat_->pace(fill_, ages_->mixed_at(), time_).ageing;
  return std::max(to_gel, standstill_age_ * shortest_share(ageing));
}

/// Whether resin has gelled, or has become so thick that this is what holds it up.
bool Filling::is_thick() const {
  constexpr double thick = 10; // times the fresh resin's viscosity: own choice
  if (!ages_) {
    return viscosity(0) > thick * problem_.resin.viscosity;
  }
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    if (fill_[i] > 0 && ages_->ratio()[i] > thick) {
      return true;
    }
  }
  return false;
}

/// The resin in the cells of each seat, with the unknown it belongs to.
Filling::GateResin Filling::resin_in_gates() const {
  GateResin resin;
  std::vector<double> volumes;
  for (std::size_t s = 0; ages_ && s < system_.seats.size(); ++s) {
    const std::int32_t root = gate_control_.unknown(s);
    volumes.push_back(gate_control_.volume(s));
    resin.ages.push_back({root, root, fill_[position(root)] * volumes.back()});
  }
  if (heat_) {
    resin.heat = heat_->gate_contents(fill_, volumes);
  }
  return resin;
}

/// Seats were tied or untied: their resin is now that of other unknowns.
void Filling::regroup_resin(GateResin resin) {
  for (std::size_t s = 0; s < resin.ages.size(); ++s) {
    resin.ages[s].to = gate_control_.unknown(s);
  }
  if (ages_) {
    ages_->regroup(resin.ages, time_);
  }
  if (heat_) {
    heat_->regroup(resin.heat, fill_);
  }
}

/// When resin that passes the head at a time was mixed [s]: a batch all at once.
double Filling::mixed_at_head(double time) const {
  return problem_.resin.mixing == Mixing::batch ? -problem_.resin.mixed_before : time;
}

/// Carries age and heat with the flow. Heat goes on also where nothing flows.
void Filling::carry_resin(const Step& step, std::span<const double> before) {
  if (!ages_ || (step.impulse.empty() && !heat_)) {
    return;
  }
  std::vector<Inlet> inlets;
  std::vector<ResinHeat::Source> sources;
  const double end = step.interval.end();
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    const std::int32_t root = gate_control_.root(pumps_[p].gates);
    if (const double volume = step.strokes[p].volume; volume > 0 && root >= 0) {
      const auto [mixed_at, oldest] =
          hoses_[p].push(volume, mixed_at_head(time_), mixed_at_head(end));
      inlets.push_back({root, volume, mixed_at, oldest});
      sources.push_back({root, volume, end - mixed_at, end - oldest});
    }
  }
  const auto flow = [&](std::int32_t i, std::int32_t j, double c) {
    return step.completes ? c * (step.impulse[position(i)] - step.impulse[position(j)])
                          : pressure_step_.link_flow(i, j, c);
  };
  if (heat_) {
    heat_->carry({before, fill_, step.impulse, flow, sources, time_, step.interval.duration},
                 options_.age_parts);
  }
  if (!step.impulse.empty()) {
    ages_->carry(before, fill_, step.impulse, flow, inlets);
  }
}

/// Viscosities for the next step, taken to be as long as the last.
void Filling::judge_ages() {
  if (!ages_) {
    return;
  }
  ages_->judge(fill_, time_, 0.5 * last_interval_.duration);
  scale_links(system_, [&](std::int32_t i, std::int32_t j) { return ages_->link_factor(i, j); });
  pressure_step_.network_changed();
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    if (pumps_[p].injected == 0) {
      hoses_[p].fill(mixed_at_head(time_)); // just before its gates open
    }
    if (hoses_[p].is_hose()) {
      pumps_[p].resistance = hoses_[p].resistance(problem_.resin, time_);
    }
  }
}

/// Of the full part: how old its oldest resin has been, and how near to its gel. The front counts
/// up to when all is full; then it goes out through the vents, and what is in the cells tells.
void Filling::note_oldest(bool with_front) {
  for (std::size_t i = 0; ages_ && i < fill_.size(); ++i) {
    if (fill_[i] > 0 && system_.volume[i] > 0) {
      oldest_ = std::fmax(oldest_, time_ - ages_->mixed_at()[i]);
      oldest_ = with_front ? std::fmax(oldest_, time_ - ages_->front_mixed_at()[i]) : oldest_;
    }
  }
  if (heat_) {
    gel_share_ =
        std::max(gel_share_, heat_->largest_gel_share(fill_, ages_->mixed_at(), time_, with_front));
  }
}

/// Age and viscosity at the nodes as they are now.
void Filling::put_ages() {
  const bool counts = ages_ || thickens(problem_.resin) || problem_.resin.mixed_before > 0;
  if (!counts) {
    return;
  }
  const double none = std::numeric_limits<double>::quiet_NaN();
  std::vector<double> age(fill_.size(), none);
  std::vector<double> mu(fill_.size(), none);
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    const double mixed_at = ages_ ? ages_->mixed_at()[i] : -problem_.resin.mixed_before;
    if (fill_[i] > 0 && !std::isnan(mixed_at)) {
      age[i] = time_ - mixed_at;
      mu[i] = heat_ ? problem_.resin.viscosity *
                          heat_->viscosity_ratio(static_cast<std::int32_t>(i), age[i])
                    : viscosity_at(problem_.resin, age[i]);
    }
  }
  age_field_ = on_nodes(age, none);
  viscosity_field_ = on_nodes(mu, none);
}

/// Temperature and conversion at the nodes as they are now.
void Filling::put_heat() {
  if (!problem_.heat) {
    return;
  }
  const double none = std::numeric_limits<double>::quiet_NaN();
  const bool has_kinetics = heat_ && heat_->has_kinetics();
  std::vector<double> temperature(fill_.size(), none);
  std::vector<double> conversion(has_kinetics ? fill_.size() : 0, none);
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    const auto unknown = static_cast<std::int32_t>(i);
    if (fill_[i] > 0) {
      temperature[i] = heat_ ? heat_->temperature(unknown) : problem_.heat->inlet_temperature;
    }
    if (fill_[i] > 0 && has_kinetics) {
      conversion[i] = heat_->conversion(unknown);
    }
  }
  temperature_field_ = on_nodes(temperature, none);
  if (has_kinetics) {
    conversion_field_ = on_nodes(conversion, none);
  }
}

void Filling::collect_heat_facts() {
  if (!problem_.heat || !(result_.resin_in_part > 0)) {
    return;
  }
  const double inlet = problem_.heat->inlet_temperature;
  HeatFacts facts{problem_.gates.front().nodes.front(), inlet, 0, inlet, {}, {}, 0, {}};
  const double age = result_.age ? result_.age->oldest : time_ + problem_.resin.mixed_before;
  facts.gel_share = std::min(1.0, age / standstill_age_);
  if (heat_) {
    facts.hottest_node = node_of_unknown(system_, heat_->peak().unknown);
    facts.highest = heat_->peak().temperature;
    facts.highest_at = heat_->peak().time;
    facts.balance = heat_->balance(fill_);
    facts.gel_share = gel_share_;
    facts.mean = 0;
    for (std::size_t i = 0; i < fill_.size(); ++i) {
      if (fill_[i] > 0 && system_.volume[i] > 0) {
        const auto unknown = static_cast<std::int32_t>(i);
        facts.mean +=
            fill_[i] * system_.volume[i] * heat_->temperature(unknown) / result_.resin_in_part;
        if (heat_->has_kinetics()) {
          facts.highest_conversion =
              std::max(facts.highest_conversion.value_or(0), heat_->conversion(unknown));
        }
      }
    }
  }
  if (!result_.last_filled.empty()) {
    facts.at_last_place = result_.temperature[result_.last_filled.front().node];
  }
  result_.heat = facts;
}

void Filling::collect_age_facts() {
  if (age_field_.empty() || !(result_.resin_in_part > 0)) {
    return;
  }
  AgeFacts facts{0, 0};
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    const double mixed_at = ages_ ? ages_->mixed_at()[i] : -problem_.resin.mixed_before;
    if (fill_[i] > 0 && system_.volume[i] > 0 && !std::isnan(mixed_at)) {
      facts.mean += fill_[i] * system_.volume[i] * (time_ - mixed_at) / result_.resin_in_part;
    }
  }
  facts.oldest = ages_ ? oldest_ : batch_age();
  if (ages_ && ages_->first_gel()) {
    const auto [unknown, time] = *ages_->first_gel();
    facts.first_gel = {node_of_unknown(system_, unknown), time};
  }
  result_.age = facts;
}

} // namespace tidemark
