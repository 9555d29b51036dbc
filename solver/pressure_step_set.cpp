// Which unknowns are full at the end of a step, and which links and ports are closed.
#include "solver/pressure_step.hpp"

#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <utility>

namespace tidemark {

namespace {

int band_layers = 8;
constexpr int band_sweeps = 24;
/// Part of what a channel's tip cannot hold that is handed on at once, from loose solves and from
/// tight ones [-], and the most unknowns it may fill: cells that are still dry draw too much.
constexpr double handed_on_loosely = 0.3;
constexpr double handed_on = 0.7;
constexpr int most_handed_on = 7;
constexpr double loose = 1e-3; // a larger tolerance is a loose solve's

} // namespace

/// What flows into a dry unknown from full ones above it [m3].
double PressureStep::inflow_when_dry(std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  if (is_level_) {
    return matrix_.gathered(i, u_);
  }
  double sum = 0;
  for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
    const std::int32_t j = matrix_.column[position(k)];
    if (carries(j)) {
      sum += matrix_.link[position(k)] * std::max(u_[position(j)] - u_[i], 0.0);
    }
  }
  return sum;
}

bool PressureStep::feeds_lower_ones(std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
    const std::size_t j = position(matrix_.column[position(k)]);
    if (u_[j] < u_[i]) {
      return true;
    }
  }
  return false;
}

/// What was full at the start stays full. With one air pressure and no gravity, anything else below
/// its floor draws from its neighbours; otherwise it may also be sucked down by lower ones.
bool PressureStep::may_leave(std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  if (input_.fill[i] >= full_fraction) {
    return false;
  }
  return is_level_ || (!is_cautious_ && !feeds_lower_ones(unknown));
}

/// Fills the unknowns of a channel that follow one just filled with what that cannot hold [m3]: set
/// changes alone would take a solve for each of them.
void PressureStep::hand_on(std::int32_t unknown, double volume, int most) {
  for (int count = 0; count < most && volume > 0; ++count) {
    const std::size_t i = position(unknown);
    double widest = 0;
    for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
      const std::int32_t next = matrix_.column[position(k)];
      const bool leads_on = state_[position(next)] == State::dry && is_channel_[position(next)];
      if (leads_on && matrix_.link[position(k)] > widest) {
        widest = matrix_.link[position(k)];
        unknown = next;
      }
    }
    volume += source_[position(unknown)]; // less its room
    if (!(widest > 0) || !(volume > 0)) {
      return;
    }
    make_wet(unknown);
    is_handed_[position(unknown)] = 1;
    is_fresh_[position(unknown)] = 1; fresh_.push_back(unknown);
  }
}

void PressureStep::forget_fresh() {
  for (const std::int32_t u : fresh_) is_fresh_[position(u)] = 0;
  fresh_.clear();
}

/// Where resin ran on in a channel in the last step taken it does so again, about as far.
void PressureStep::run_on() {
  static const double R = std::getenv("RUN") ? atof(std::getenv("RUN")) : 0.8;
  static const int M = std::getenv("RUNM") ? atoi(std::getenv("RUNM")) : 30;
  if (!(R > 0)) return;
  for (std::size_t i = 0; i < run_.size(); ++i) {
    if (run_[i] > 0 && state_[i] == State::wet) {
      hand_on(static_cast<std::int32_t>(i), R * input_.guess_scale * run_[i], M);
    }
  }
}

/// Finds the runs of channel cells that the step fills, for the next one.
void PressureStep::keep_runs(std::span<const double> fill) {
  std::ranges::fill(run_, 0.0);
  if (is_level_) {
    return;
  }
  std::vector<std::uint8_t> seen(state_.size(), 0);
  std::vector<std::int32_t> run;
  const auto is_new = [&](std::int32_t unknown) {
    const std::size_t i = position(unknown);
    const bool joins = is_channel_[i] && state_[i] == State::wet && fill[i] < full_fraction && !seen[i];
    seen[i] |= joins ? 1 : 0;
    return joins;
  };
  for (const std::int32_t start : active_) {
    if (!is_new(start)) {
      continue;
    }
    run.assign(1, start);
    spread(matrix_, run, is_new);
    double volume = 0;
    for (const std::int32_t i : run) {
      volume += (1 - fill[position(i)]) * system_.volume[position(i)];
    }
    for (const std::int32_t i : run) {
      run_[position(i)] = volume;
    }
  }
}

/// Overfull dry unknowns become wet, wet ones that draw from their neighbours dry. Returns whether
/// anything changed.
bool PressureStep::change_set(double tolerance, bool with_channels) {
  std::vector<std::pair<std::int32_t, double>> overfull; // by a volume [m3]
  for (const std::int32_t unknown : border_) {
    const std::size_t i = position(unknown);
    const double excess = source_[i] + inflow_when_dry(unknown);
    if (excess > tolerance * system_.volume[i] && (with_channels || !is_channel_[i] || std::getenv("WCO"))) {
      overfull.emplace_back(unknown, excess);
    }
  }
  std::vector<std::int32_t> drawing;
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    const double above = u_[i] - floor_of(unknown);
    if (above * matrix_.diagonal[i] < -tolerance * system_.volume[i] && may_leave(unknown) && (with_channels || !is_channel_[i])) {
      drawing.push_back(unknown);
    }
  }
  static const int PEEL = std::getenv("PEEL") ? atoi(std::getenv("PEEL")) : 0;
  if (PEEL && !is_level_ && !is_cautious_ && !drawing.empty()) {
    std::vector<std::uint8_t> gone(state_.size(), 0);
    for (auto d : drawing) gone[position(d)] = 1;
    std::vector<std::int32_t> last = drawing;
    for (int depth = 0; depth < PEEL && !last.empty(); ++depth) {
      std::vector<std::int32_t> next;
      for (auto d : last) {
        for (auto k = matrix_.first[position(d)]; k < matrix_.first[position(d) + 1]; ++k) {
          const auto n = matrix_.column[position(k)];
          const auto i = position(n);
          if (state_[i] != State::wet || gone[i] || input_.fill[i] >= full_fraction || is_channel_[i] || i < system_.gates) continue;
          if (!((u_[i] - floor_of(n)) * matrix_.diagonal[i] < -tolerance * system_.volume[i])) continue;
          bool feeds = false;
          for (auto m = matrix_.first[i]; m < matrix_.first[i + 1]; ++m) {
            const auto j = position(matrix_.column[position(m)]);
            feeds = feeds || (u_[j] < u_[i] && !gone[j]);
          }
          if (!feeds) { gone[i] = 1; next.push_back(n); }
        }
      }
      drawing.insert(drawing.end(), next.begin(), next.end());
      last = next;
    }
  }
  static const bool tr3 = std::getenv("TR3") != nullptr;
  if (tr3 && overfull.size() < 12) for (auto [o, e] : overfull) { auto i = position(o); std::fprintf(stderr, "      over %d excess %.4g F %.3g channel %d V %.3g floor %.5g; from", o, (source_[i]+inflow_when_dry(o))/system_.volume[i], input_.fill[i], is_channel_[i], system_.volume[i], floor_of(o));
    for (auto k = matrix_.first[i]; k < matrix_.first[i+1]; ++k) { auto j = matrix_.column[position(k)]; std::fprintf(stderr, " %d:%d u %.5g c/V %.3g;", j, int(state_[position(j)]), u_[position(j)], matrix_.link[position(k)]/system_.volume[i]); } std::fprintf(stderr, "\n"); }
  if (tr3 && drawing.size() < 12) for (auto o : drawing) { auto i = position(o); std::fprintf(stderr, "      drawing %d by %.4g F %.3g channel %d V %.3g\n", o, (u_[i]-floor_of(o))*matrix_.diagonal[i]/system_.volume[i], input_.fill[i], is_channel_[i], system_.volume[i]); }
  for (const auto& [unknown, excess] : overfull) {
    make_wet(unknown);
    if (is_channel_[position(unknown)]) { is_fresh_[position(unknown)] = 1; fresh_.push_back(unknown); }
  }
  for (const auto& [unknown, excess] : overfull) {
    if (!is_level_ && is_channel_[position(unknown)]) {
      const bool is_rough = !is_cautious_ && tolerance > loose;
      hand_on(unknown, (is_rough ? handed_on_loosely : handed_on) * excess, most_handed_on);
    }
  }
  for (const std::int32_t unknown : drawing) {
    make_dry(unknown);
    if (is_channel_[position(unknown)]) {is_fresh_[position(unknown)] = 1; fresh_.push_back(unknown);}
  }
  const bool changed = !overfull.empty() || !drawing.empty();
  if (changed) {
    collect_active();
    keep_one_dry();
  }
  return changed;
}

/// A body of resin that no pressure holds and that has no way out would have any pressure. The link
/// that would open first as its pressure rises is taken off the closed ones.
void PressureStep::keep_ways_out(std::vector<DirectedLink>& closed) const {
  if (closed.empty()) {
    return;
  }
  struct Body {
    std::ptrdiff_t ways = 0; // open links to dry unknowns
    bool is_held = false;
    double least_rise = std::numeric_limits<double>::infinity();
    std::size_t first = 0; // in closed
  };
  std::vector<Body> bodies;
  std::vector<std::int32_t> body_of(state_.size(), -1);
  std::vector<std::int32_t> members;
  for (const std::int32_t start : active_) {
    if (body_of[position(start)] >= 0) {
      continue;
    }
    const auto name = static_cast<std::int32_t>(bodies.size());
    Body& body = bodies.emplace_back();
    body_of[position(start)] = name;
    members.assign(1, start);
    spread(matrix_, members, [&](std::int32_t neighbour) {
      const State state = state_[position(neighbour)];
      body.ways += state == State::dry ? 1 : 0;
      body.is_held = body.is_held || state == State::held;
      const bool joins = state == State::wet && body_of[position(neighbour)] < 0;
      if (joins) {
        body_of[position(neighbour)] = name;
      }
      return joins;
    });
  }
  for (std::size_t k = 0; k < input_.ports.size(); ++k) {
    const Port& port = input_.ports[k];
    if (!port.volume && port_is_open_[k] && body_of[position(port.unknown)] >= 0) {
      bodies[position(body_of[position(port.unknown)])].is_held = true; // through its hose
    }
  }
  for (std::size_t k = 0; k < closed.size(); ++k) {
    if (const std::int32_t name = body_of[position(closed[k].from)]; name >= 0) {
      Body& body = bodies[position(name)];
      const double rise = u_[position(closed[k].to)] - u_[position(closed[k].from)];
      --body.ways;
      if (rise < body.least_rise) {
        body.least_rise = rise;
        body.first = k;
      }
    }
  }
  std::vector<std::size_t> opened;
  for (const Body& body : bodies) {
    if (!body.is_held && body.ways == 0 && std::isfinite(body.least_rise)) {
      opened.push_back(body.first);
    }
  }
  std::ranges::sort(opened, std::ranges::greater{});
  for (const std::size_t k : opened) {
    closed.erase(closed.begin() + static_cast<std::ptrdiff_t>(k));
  }
}

/// Closes links from full unknowns to dry ones that are higher, and opens those that are no longer
/// so. Returns whether anything changed.
bool PressureStep::change_links() {
  std::vector<DirectedLink> closed;
  for (const std::int32_t dry : border_) {
    const std::size_t j = position(dry);
    for (std::int32_t k = matrix_.first[j]; k < matrix_.first[j + 1]; ++k) {
      const std::int32_t full = matrix_.column[position(k)];
      static const int FM = std::getenv("FM") ? atoi(std::getenv("FM")) : 3;
      const bool skip = ((FM & 1) && is_fresh_[j]) || ((FM & 2) && is_fresh_[position(full)]);
      if (carries(full) && u_[position(full)] <= u_[j] && !skip) {
        closed.push_back({full, dry, matrix_.link[position(k)]});
      }
    }
  }
  std::ranges::sort(closed, {}, [](const DirectedLink& l) { return std::pair(l.from, l.to); });
  keep_ways_out(closed);
  if (closed == closed_links_) {
    return false;
  }
  const auto base = [&](std::int32_t unknown) {
    return system_.matrix.diagonal[position(unknown)] + hose_[position(unknown)];
  };
  for (const DirectedLink& link : closed_links_) {
    matrix_.diagonal[position(link.from)] = base(link.from);
  }
  closed_links_ = std::move(closed);
  for (std::size_t k = 0; k < closed_links_.size();) {
    const std::int32_t from = closed_links_[k].from;
    double sum = 0;
    for (; k < closed_links_.size() && closed_links_[k].from == from; ++k) {
      sum += closed_links_[k].conductance;
    }
    const double whole = base(from);
    matrix_.diagonal[position(from)] = std::max(whole - sum, 1e-12 * whole);
  }
  return true;
}

/// Closes ports by pressure that work the wrong way, opens those that would work the right way.
bool PressureStep::change_ports() {
  bool changed = false;
  for (std::size_t k = 0; k < input_.ports.size(); ++k) {
    const Port& port = input_.ports[k];
    const std::size_t i = position(port.unknown);
    if (port.volume || state_[i] == State::idle || state_[i] == State::dry) {
      continue;
    }
    const double sign = port.lets_out ? -1 : 1;
    const double noise = 1e-9 * system_.volume[i];
    if (port_is_open_[k] ? sign * inflow_of_port(k) < -noise
                         : sign * (port.impulse - u_[i]) * matrix_.diagonal[i] > noise) {
      apply_port(k, !port_is_open_[k]);
      changed = true;
    }
  }
  if (changed) {
    rebuild_border();
    collect_active();
    keep_one_dry();
  }
  return changed;
}

/// The unknowns near the front: the border and what is wet within band_layers of it, from the
/// inside out.
void PressureStep::collect_band() {
  band_.assign(border_.begin(), border_.end());
  std::size_t layer_begin = 0;
  for (int layer = 0; layer < band_layers; ++layer) {
    const std::size_t layer_end = band_.size();
    for (std::size_t at = layer_begin; at < layer_end; ++at) {
      const std::size_t i = position(band_[at]);
      for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
        const std::int32_t neighbour = matrix_.column[position(k)];
        if (state_[position(neighbour)] == State::wet && position(neighbour) >= system_.gates &&
            !in_band_[position(neighbour)]) {
          in_band_[position(neighbour)] = 1;
          band_.push_back(neighbour);
        }
      }
    }
    layer_begin = layer_end;
  }
  for (const std::int32_t unknown : band_) {
    in_band_[position(unknown)] = 0;
  }
  std::ranges::reverse(band_);
}

/// u of a full unknown that balances its flow, the others as they are: out of dry ones comes
/// nothing, so that the lowest of them open first.
double PressureStep::level_with_one_way_links(std::int32_t unknown) {
  const std::size_t i = position(unknown);
  double diagonal = hose_[i];
  double sum = source_[i];
  dry_beside_.clear();
  for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
    const std::int32_t j = matrix_.column[position(k)];
    const double c = matrix_.link[position(k)];
    if (carries(j)) {
      diagonal += c;
      sum += c * u_[position(j)];
    } else if (state_[position(j)] == State::dry) {
      dry_beside_.emplace_back(u_[position(j)], c);
    }
  }
  std::ranges::sort(dry_beside_);
  for (const auto& [level, c] : dry_beside_) {
    if (sum <= level * diagonal) {
      break;
    }
    diagonal += c;
    sum += c * level;
  }
  return diagonal > 0 ? sum / diagonal : u_[i];
}

/// One unknown of a sweep: u_i = what makes the cell just full, but not below the floor.
void PressureStep::relax(std::int32_t unknown, std::vector<std::int32_t>& band) {
  const std::size_t i = position(unknown);
  const double floor = floor_of(unknown);
  const bool is_dry = state_[i] == State::dry;
  // The band's inner border delivers what it is asked for: resin would run too far down a channel.
  const bool keeps_state = !is_level_ && is_channel_[i];
  if (keeps_state && is_dry) {
    return;
  }
  const double level = is_level_ ? (source_[i] + matrix_.gathered(i, u_)) / matrix_.diagonal[i]
                       : is_dry
                           ? floor + (source_[i] + inflow_when_dry(unknown)) / matrix_.diagonal[i]
                           : level_with_one_way_links(unknown);
  if (level > floor && is_dry) {
    const std::size_t known = border_.size();
    make_wet(unknown);
    band.insert(band.end(), border_.begin() + static_cast<std::ptrdiff_t>(known), border_.end());
    u_[i] = level;
  } else if (!(level > floor) && !is_dry && !keeps_state && (is_level_ || may_leave(unknown))) {
    make_dry(unknown);
  } else if (!is_dry) {
    u_[i] = level;
  }
}

/// Projected Gauss-Seidel sweeps over the band. They move the front to where the flow from behind
/// takes it, at a small part of a solve's cost.
void PressureStep::relax_band() {
  static const int RS = std::getenv("RS") ? atoi(std::getenv("RS")) : 24;
  static const int RL = std::getenv("RL") ? atoi(std::getenv("RL")) : 8;
  band_layers = RL;
  collect_band();
  for (int sweep = 0; sweep < (is_level_?24:RS); ++sweep) {
    for (std::size_t at = 0; at < band_.size(); ++at) {
      const State state = state_[position(band_[at])];
      if (state == State::dry || state == State::wet) {
        relax(band_[at], band_);
      }
    }
    static const int RP = std::getenv("RP") ? atoi(std::getenv("RP")) : 6;
    if (RP && sweep % RP == RP - 1) level_pockets();
  }
  collect_active();
  keep_one_dry();
}

/// Gauss-Seidel sweeps over what is wet of the band, so that the links suit the pressures before a
/// solve.
void PressureStep::level_band() {
  static const int LS = std::getenv("LS") ? atoi(std::getenv("LS")) : 8;
  static const int LL = std::getenv("LL") ? atoi(std::getenv("LL")) : 3;
  band_layers = LL;
  collect_band();
  band_layers = 8;
  for (int sweep = 0; sweep < LS; ++sweep) {
    for (const std::int32_t unknown : band_) {
      if (state_[position(unknown)] == State::wet) {
        u_[position(unknown)] = level_with_one_way_links(unknown);
      }
    }
    static const int PE = std::getenv("PE") ? atoi(std::getenv("PE")) : 1;
    if (!is_cautious_ && sweep % PE == PE - 1) level_pockets();
  }
}

/// With only volumes given not all of a body can be full: the equations would leave its pressure
/// open.
void PressureStep::keep_one_dry() {
  if (bodies_ == 1 && !border_.empty()) {
    return;
  }
  std::vector<std::uint8_t> is_free(bodies_, 1);
  for (std::size_t k = 0; k < input_.ports.size(); ++k) {
    if (port_is_open_[k] && !input_.ports[k].volume) {
      is_free[position(body_of_[position(input_.ports[k].unknown)])] = 0;
    }
  }
  for (const std::int32_t dry : border_) {
    is_free[position(body_of_[position(dry)])] = 0;
  }
  std::vector<std::int32_t> lowest(bodies_, -1);
  const auto height = [&](std::int32_t i) { return u_[position(i)] - floor_of(i); };
  for (const std::int32_t wet : active_) {
    const std::size_t body = position(body_of_[position(wet)]);
    if (is_free[body] && (lowest[body] < 0 || height(wet) < height(lowest[body]))) {
      lowest[body] = wet;
    }
  }
  bool changed = false;
  for (const std::int32_t unknown : lowest) {
    if (unknown >= 0) {
      make_dry(unknown);
      changed = true;
    }
  }
  if (changed) {
    collect_active();
  }
}

} // namespace tidemark
