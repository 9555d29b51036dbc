#include "solver/resin_age.hpp"

#include "solver/channel_law.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace tidemark {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double never = std::numeric_limits<double>::infinity();

double volume_of(const Hose& hose) {
  return std::numbers::pi / 4 * hose.bore * hose.bore * hose.length;
}

/// Viscosity over that of the fresh resin, no more than `blocked`.
double limited_ratio(const Resin& resin, double age) {
  const bool has_gelled = age >= gel_age(resin) * (1 - 1e-9);
  return has_gelled ? ResinAge::blocked
                    : std::min(viscosity_at(resin, std::max(age, 0.0)) / resin.viscosity,
                               ResinAge::blocked);
}

} // namespace

// --- hoses -------------------------------------------------------------------------------------

HoseContents::HoseContents(std::span<const Hose> line) : line_(line.begin(), line.end()) {
  fill(0);
}

void HoseContents::fill(double time) {
  double volume = 0;
  for (const Hose& hose : line_) {
    volume += volume_of(hose);
  }
  plugs_.clear();
  if (volume > 0) {
    plugs_.push_back({volume, time, time});
  }
}

HoseContents::Passed HoseContents::push(double volume, double begin, double end) {
  plugs_.push_back({volume, begin, end});
  const double oldest = plugs_.front().first;
  double to_go = volume;
  while (plugs_.size() > 1 && to_go >= plugs_.front().volume) {
    to_go -= plugs_.front().volume;
    plugs_.pop_front();
  }
  Plug& plug = plugs_.front();
  const double share = std::min(1.0, to_go / plug.volume);
  plug.first += share * (plug.last - plug.first);
  plug.volume -= share * plug.volume;
  const double at_end = plug.first;
  if (line_.empty()) {
    plugs_.clear();
  }
  return {line_.empty() ? end : at_end, oldest};
}

double HoseContents::resistance(const Resin& resin, double time) const {
  double sum = 0;
  auto plug = plugs_.begin();
  double used = 0; // of that plug, from its first end [m3]
  for (auto hose = line_.rbegin(); hose != line_.rend(); ++hose) {
    const double whole = volume_of(*hose);
    const double fresh = hose_resistance({&*hose, 1});
    for (double left = whole; plug != plugs_.end() && left > 1e-12 * whole;) {
      const double piece = std::min(left, plug->volume - used);
      const double middle = plug->volume > 0 ? (used + 0.5 * piece) / plug->volume : 0.5;
      const double mixed_at = plug->first + middle * (plug->last - plug->first);
      sum += fresh * piece / whole * limited_ratio(resin, time - mixed_at);
      left -= piece;
      used += piece;
      if (used >= plug->volume) {
        ++plug;
        used = 0;
      }
    }
  }
  return sum;
}

// --- cells -------------------------------------------------------------------------------------

ResinAge::ResinAge(const Resin& resin, const FlowSystem& system, int parts, const ResinHeat* heat)
    : resin_(resin), system_(system), parts_(parts), heat_(heat),
      standstill_age_(standstill_age(resin)), mixed_at_(system.size(), none),
      front_(system.size(), none), coming_(system.size(), none), coming_from_(system.size(), -1),
      ratio_(system.size(), 1.0), front_ratio_(system.size(), 1.0), judged_(system.size(), 1.0),
      is_full_(system.size(), 0) {}

/// False for an age that is not known.
bool ResinAge::has_gelled(double age) const {
  return age >= standstill_age_ * (1 - 1e-9);
}

double ResinAge::ratio_at(double age) const {
  return has_gelled(age) ? blocked : limited_ratio(resin_, age);
}

double ResinAge::ratio_in(std::size_t i, double age) const {
  return heat_ != nullptr ? heat_->viscosity_ratio(static_cast<std::int32_t>(i), age)
                          : ratio_at(age);
}

/// A step ends where its front gels: seen from before that, half way there at most.
double ResinAge::front_ratio_in(std::size_t i, double age, double ahead) const {
  const auto unknown = static_cast<std::int32_t>(i);
  const auto ratio = [&](double later) {
    return heat_ != nullptr ? heat_->front_viscosity_ratio(unknown, age, later)
                            : ratio_at(age + later);
  };
  const double then = ratio(ahead);
  if (!(ahead > 0) || then < blocked) {
    return then;
  }
  const double left =
      heat_ != nullptr ? heat_->time_to_gel_of_front(unknown, age) : standstill_age_ - age;
  return left > 0 ? ratio(std::min(ahead, 0.5 * left)) : then;
}

/// As things are now: at the temperature of the cell.
double ResinAge::front_gels_at(std::size_t i, double time) const {
  return heat_ != nullptr
             ? time + heat_->time_to_gel_of_front(static_cast<std::int32_t>(i), time - front_[i])
             : front_[i] + standstill_age_;
}

void ResinAge::top_up(std::int32_t unknown, double fill, double time) {
  double& mixed_at = mixed_at_[position(unknown)];
  mixed_at = std::isnan(mixed_at) ? time : fill * mixed_at + (1 - fill) * time;
  front_[position(unknown)] = time;
}

void ResinAge::regroup(std::span<const Share> shares, double time) {
  const std::vector<double> mixed_at = mixed_at_;
  for (const Share& share : shares) {
    mixed_at_[position(share.to)] = none;
    front_[position(share.to)] = none;
  }
  for (const Share& share : shares) {
    const double value = mixed_at[position(share.from)];
    if (share.volume > 0 && !std::isnan(value)) {
      double& youngest = mixed_at_[position(share.to)];
      youngest = std::isnan(youngest) ? value : std::max(youngest, value);
      front_[position(share.to)] = time;
    }
  }
}

void ResinAge::carry(std::span<const double> before, std::span<const double> after,
                     std::span<const double> u, const LinkFlow& flow,
                     std::span<const Inlet> inlets) {
  std::vector<std::int32_t> order(system_.size());
  std::iota(order.begin(), order.end(), 0);
  std::ranges::stable_sort(order, std::ranges::greater{},
                           [&](std::int32_t i) { return u[position(i)]; });
  const double share = 1.0 / parts_;
  const auto part_of_flow = [&](std::int32_t i, std::int32_t j, double c) {
    return share * flow(i, j, c);
  };
  std::vector<double> fill(before.begin(), before.end());
  for (int part = 0; part < parts_; ++part) {
    std::vector<Inlet> entering(inlets.begin(), inlets.end());
    for (Inlet& inlet : entering) {
      inlet.volume *= share;
      inlet.mixed_at = part + 1 == parts_
                           ? inlet.mixed_at
                           : inlet.oldest + (part + 1) * share * (inlet.mixed_at - inlet.oldest);
    }
    carry_part(order, fill, u, part_of_flow, entering);
    for (std::size_t i = 0; i < fill.size(); ++i) {
      fill[i] = before[i] + (part + 1) * share * (after[i] - before[i]);
    }
  }
}

void ResinAge::carry_part(std::span<const std::int32_t> order, std::span<const double> fill,
                          std::span<const double> u, const LinkFlow& flow,
                          std::span<const Inlet> inlets) {
  const Stencil& matrix = system_.matrix;
  for (const std::int32_t unknown : order) {
    const std::size_t i = position(unknown);
    const double least = 1e-9 * system_.volume[i]; // what less than that brings does not count
    double amount = std::isnan(mixed_at_[i]) ? 0 : fill[i] * system_.volume[i];
    double content = amount > 0 ? amount * mixed_at_[i] : 0;
    double oldest = never;
    for (const Inlet& inlet : inlets) {
      if (inlet.unknown == unknown && inlet.volume > 0) {
        amount += inlet.volume;
        content += inlet.volume * inlet.mixed_at;
        oldest = std::min(oldest, inlet.oldest);
      }
    }
    for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
      const std::int32_t other = matrix.column[position(k)];
      const double inflow =
          u[position(other)] > u[i] ? flow(other, unknown, matrix.link[position(k)]) : 0;
      if (inflow > 0 && !std::isnan(mixed_at_[position(other)])) {
        amount += inflow;
        content += inflow * mixed_at_[position(other)];
        oldest = inflow > least ? std::min(oldest, front_[position(other)]) : oldest;
      }
    }
    if (amount > 0) {
      mixed_at_[i] = content / amount;
      front_[i] = std::isnan(front_[i]) && oldest < never ? oldest : front_[i];
    }
  }
}

/// Dry cells get the front of the neighbour they are nearest to.
void ResinAge::spread_front(std::span<const double> fill) {
  coming_ = front_;
  std::vector<std::int32_t> body;
  for (std::size_t i = 0; i < coming_.size(); ++i) {
    coming_from_[i] = std::isnan(coming_[i]) ? -1 : static_cast<std::int32_t>(i);
    if (!std::isnan(coming_[i]) && fill[i] > 0) {
      body.push_back(static_cast<std::int32_t>(i));
    }
  }
  const Stencil& matrix = system_.matrix;
  for (std::size_t at = 0; at < body.size(); ++at) {
    const std::size_t i = position(body[at]);
    for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
      const std::int32_t neighbour = matrix.column[position(k)];
      if (std::isnan(coming_[position(neighbour)])) {
        coming_[position(neighbour)] = coming_[i];
        coming_from_[position(neighbour)] = coming_from_[i];
        body.push_back(neighbour);
      }
    }
  }
}

void ResinAge::judge(std::span<const double> fill, double time, double ahead) {
  constexpr double most_change = 1.2; // of a viscosity by half a step: steps end before 1.05
  spread_front(fill);
  double volume = 0;
  double change_of_all = 0; // times volume
  for (std::size_t i = 0; i < ratio_.size(); ++i) {
    const bool was_full = is_full_[i] != 0;
    is_full_[i] = fill[i] >= full_fraction && system_.volume[i] > 0;
    const bool by_content = is_full_[i] && !std::isnan(mixed_at_[i]);
    const double mixed_at = by_content ? mixed_at_[i] : coming_[i];
    const bool is_known = !std::isnan(mixed_at);
    const std::size_t from = by_content || !is_known ? i : position(coming_from_[i]);
    double now = 1;
    if (is_known) {
      now = by_content ? ratio_in(i, time - mixed_at) : front_ratio_in(from, time - mixed_at, 0);
    }
    const bool goes_on = was_full && is_full_[i] && now < blocked;
    const double change =
        goes_on && ahead > 0 ? std::clamp(now / judged_[i], 1 / most_change, most_change) : 1;
    if (goes_on) {
      volume += system_.volume[i];
      change_of_all += system_.volume[i] * std::abs(std::log(now / judged_[i]));
    }
    judged_[i] = now;
    ratio_[i] = !is_known || is_full_[i] ? std::min(now * std::sqrt(change), blocked)
                                         : front_ratio_in(from, time - mixed_at, ahead);
    front_ratio_[i] =
        std::isnan(front_[i]) ? ratio_[i] : front_ratio_in(i, time - front_[i], ahead);
    if (!is_full_[i] || first_gel_ || !is_known) {
      continue;
    }
    if (heat_ != nullptr ? now >= blocked : has_gelled(time - mixed_at)) {
      first_gel_ = FirstGel{static_cast<std::int32_t>(i),
                            heat_ != nullptr ? time : mixed_at + standstill_age_};
    }
  }
  if (time > judged_at_) {
    pace_ = volume > 0 ? change_of_all / volume / (time - judged_at_) : 0;
    judged_at_ = time;
  }
  judge_front(fill, time);
}

/// The front stands on the links from full cells to others.
void ResinAge::judge_front(std::span<const double> fill, double time) {
  const Stencil& matrix = system_.matrix;
  next_front_gel_ = never;
  bool has_front = false;
  front_has_gelled_ = true;
  for (std::size_t i = 0; i < fill.size(); ++i) {
    for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
      const std::int32_t other = matrix.column[position(k)];
      if (!is_full_[i] || is_full_[position(other)]) {
        continue;
      }
      has_front = true;
      const double gels_at = front_gels_at(i, time);
      const bool is_solid = heat_ != nullptr ? !(gels_at > time) : has_gelled(time - front_[i]);
      if (!is_solid) {
        front_has_gelled_ = false;
        next_front_gel_ = gels_at < next_front_gel_ ? gels_at : next_front_gel_;
      } else if (!first_gel_ || gels_at < first_gel_->time) {
        first_gel_ = FirstGel{other, gels_at};
      }
    }
  }
  front_has_gelled_ = front_has_gelled_ && has_front;
}

} // namespace tidemark
