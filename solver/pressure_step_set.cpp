// Which unknowns are full at the end of a step, and which links and ports are closed.
#include "solver/pressure_step.hpp"

#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <ranges>
#include <utility>

namespace tidemark {

namespace {

/// Layers of cells along the front, and sweeps over them.
struct Band {
  int layers;
  int sweeps;
};
constexpr Band wide{8, 24};
/// Change of what a cell holds for which its neighbours are swept again [-].
constexpr double notable_change = 0.03;
constexpr Band narrow{3, 8}; // where the set is about known
constexpr int sweeps_between_pockets = 6;
/// Unknowns of a pocket that is levelled whenever one of them changes its state: as long as it has
/// the pressure from before, all of them would fill.
constexpr std::size_t most_of_small = 50;
/// Part of what a channel's tip cannot hold that is handed on at once, from loose solves and from
/// tight ones [-], and the most unknowns it may fill: cells that are still dry draw too much.
constexpr double handed_on_loosely = 0.3;
constexpr double handed_on = 0.7;
constexpr int most_handed_on = 7;
constexpr double runs_on = 0.8; // of what a channel took up in the last step, and unknowns at most
constexpr int most_run_on = 30;
constexpr double notable_shift = 1e-2; // of the pressure of a pocket's air
constexpr double loose = 1e-3;         // a larger tolerance is a loose solve's

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

/// What a dry unknown cannot hold of that and its own source [m3]; below 0 the room left.
double PressureStep::excess_when_dry(std::int32_t unknown) const {
  return source_[position(unknown)] + inflow_when_dry(unknown);
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

/// Whether the air of a pocket is pressed harder than any resin beside it presses: cells that count
/// as full have taken its room without standing against it.
bool PressureStep::is_overpressed(std::size_t pocket) const {
  const AirPocket& air = input_.pockets[pocket];
  const auto takes_up = [&](std::int32_t unknown) {
    return state_[position(unknown)] == State::dry ? inflow_when_dry(unknown) > 0
                                                   : u_[position(unknown)] >= floor_of(unknown);
  };
  return air.acts_by_end() && pockets_[pocket].shift > notable_shift * air.impulse &&
         std::ranges::none_of(air.unknowns, takes_up);
}

/// Whether a full unknown is one of those.
bool PressureStep::is_pressed_out(std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  return pocket_of_[i] >= 0 && u_[i] < floor_of(unknown) && is_overpressed(position(pocket_of_[i]));
}

/// What was full at the start stays full. With one air pressure and no gravity, anything else below
/// its floor draws from its neighbours; otherwise it may also be sucked down by lower ones.
bool PressureStep::may_leave(std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  if (input_.fill[i] >= full_fraction) {
    return false;
  }
  return is_level_ || (!is_cautious_ && (is_pressed_out(unknown) || !feeds_lower_ones(unknown)));
}

/// The neighbour in a channel with the strongest link of those accepted, or -1.
template <class Accepts>
std::int32_t PressureStep::widest_channel_beside(std::int32_t unknown, Accepts accepts) const {
  const std::size_t i = position(unknown);
  std::int32_t found = -1;
  double widest = 0;
  for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
    const std::int32_t j = matrix_.column[position(k)];
    if (is_channel_[position(j)] && matrix_.link[position(k)] > widest && accepts(j)) {
      widest = matrix_.link[position(k)];
      found = j;
    }
  }
  return found;
}

/// Fills the unknowns of a channel that follow one just filled with what that cannot hold [m3]: set
/// changes alone would take a solve for each of them. Not into a small pocket: its air pushes back.
void PressureStep::hand_on(std::int32_t unknown, double volume, int most) {
  for (int count = 0; count < most && volume > 0; ++count) {
    const std::int32_t next = widest_channel_beside(unknown, [&](std::int32_t j) {
      return state_[position(j)] == State::dry && !small_pocket_of(j);
    });
    if (next < 0) {
      return;
    }
    unknown = next;
    volume += source_[position(unknown)]; // less its room
    if (!(volume > 0)) {
      return;
    }
    make_wet(unknown);
    is_handed_[position(unknown)] = 1;
    mark_fresh(unknown);
  }
}

/// In a channel u is known from solves only; till then resin is taken to go on.
void PressureStep::mark_fresh(std::int32_t unknown) {
  if (is_channel_[position(unknown)]) {
    is_fresh_[position(unknown)] = 1;
    fresh_.push_back(unknown);
  }
}

void PressureStep::forget_fresh() {
  for (const std::int32_t unknown : fresh_) {
    is_fresh_[position(unknown)] = 0;
  }
  fresh_.clear();
}

/// Where resin ran on in a channel in the last step taken it does so again, about as far.
void PressureStep::run_on() {
  for (const auto& [tip, room] : runs_) {
    if (state_[position(tip)] == State::wet) {
      hand_on(tip, runs_on * input_.guess_scale * room, most_run_on);
    }
  }
}

/// Finds the runs of channel cells that the step fills, for the next one.
void PressureStep::keep_runs(std::span<const double> fill) {
  runs_.clear();
  if (is_level_) {
    return;
  }
  std::vector<std::uint8_t> seen(state_.size(), 0);
  std::vector<std::int32_t> run;
  const auto is_new = [&](std::int32_t unknown) {
    const std::size_t i = position(unknown);
    const bool joins =
        is_channel_[i] && state_[i] == State::wet && fill[i] < full_fraction && !seen[i];
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
    std::vector<std::int32_t> tips;
    for (const std::int32_t i : run) {
      volume += (1 - fill[position(i)]) * system_.volume[position(i)];
      const auto leads_on = [&](std::int32_t j) {
        return state_[position(j)] == State::dry && is_channel_[position(j)];
      };
      if (std::ranges::any_of(matrix_.neighbours(i), leads_on)) {
        tips.push_back(i);
      }
    }
    for (const std::int32_t tip : tips) {
      runs_.emplace_back(tip, volume / static_cast<double>(tips.size()));
    }
  }
  std::ranges::sort(runs_);
}

bool PressureStep::is_below_floor(std::int32_t unknown, double tolerance) const {
  const std::size_t i = position(unknown);
  return (u_[i] - floor_of(unknown)) * matrix_.diagonal[i] < -tolerance * system_.volume[i];
}

/// An unknown that draws from its neighbours becomes dry, and at the tip of a channel so do those
/// behind it that are below their floors too: each would be the tip, and draw, after the next
/// solve.
void PressureStep::dry_up(std::int32_t unknown, double tolerance) {
  for (int count = 0; count <= most_handed_on && unknown >= 0; ++count) {
    const bool is_tip = !is_level_ && is_channel_[position(unknown)];
    const auto is_wet = [&](std::int32_t j) { return state_[position(j)] == State::wet; };
    const std::int32_t next = is_tip ? widest_channel_beside(unknown, is_wet) : -1;
    make_dry(unknown);
    mark_fresh(unknown);
    const bool goes_on = next >= 0 && !is_fresh_[position(next)] &&
                         is_below_floor(next, tolerance) && may_leave(next);
    unknown = goes_on ? next : -1;
  }
}

std::optional<std::size_t> PressureStep::small_pocket_of(std::int32_t unknown) const {
  const std::int32_t k = pocket_of_[position(unknown)];
  const bool is_small = k >= 0 && input_.pockets[position(k)].unknowns.size() <= most_of_small;
  return is_small ? std::optional(position(k)) : std::nullopt;
}

/// Overfull dry unknowns become wet, wet ones that draw from their neighbours dry. Returns whether
/// anything changed.
bool PressureStep::change_set(double tolerance) {
  std::vector<std::pair<std::int32_t, double>> overfull; // by a volume [m3]
  const auto is_overfull = [&](std::int32_t unknown, double excess) {
    return excess > tolerance * system_.volume[position(unknown)];
  };
  for (const std::int32_t unknown : border_) {
    if (const double excess = excess_when_dry(unknown); is_overfull(unknown, excess)) {
      overfull.emplace_back(unknown, excess);
    }
  }
  std::vector<std::int32_t> drawing;
  for (const std::int32_t unknown : active_) {
    const bool is_fresh = is_fresh_[position(unknown)];
    if (!is_fresh && is_below_floor(unknown, tolerance) && may_leave(unknown)) {
      drawing.push_back(unknown);
    }
  }
  std::vector<std::size_t> touched; // small pockets
  const auto touch = [&](std::int32_t unknown) {
    const auto k = is_cautious_ ? std::nullopt : small_pocket_of(unknown);
    if (k) {
      touched.push_back(*k);
      level_pocket(*k);
    }
    return k.has_value();
  };
  std::erase_if(overfull, [&](std::pair<std::int32_t, double>& one) {
    const std::int32_t unknown = one.first;
    if (touch(unknown)) { // with those before it that have joined
      one.second = excess_when_dry(unknown);
      if (!is_overfull(unknown, one.second)) {
        return true;
      }
    }
    make_wet(unknown);
    mark_fresh(unknown);
    return false;
  });
  for (const auto& [unknown, excess] : overfull) {
    if (!is_level_ && is_channel_[position(unknown)]) {
      const bool is_rough = !is_cautious_ && tolerance > loose;
      hand_on(unknown, (is_rough ? handed_on_loosely : handed_on) * excess, most_handed_on);
    }
  }
  for (const std::int32_t unknown : drawing) {
    if (state_[position(unknown)] == State::wet) { // not dried up with another
      dry_up(unknown, tolerance);
      touch(unknown);
    }
  }
  std::ranges::sort(touched);
  touched.erase(std::ranges::unique(touched).begin(), touched.end());
  std::ranges::for_each(touched, [&](std::size_t k) { level_pocket(k); });
  const bool changed = !overfull.empty() || !drawing.empty();
  if (changed) {
    collect_active();
    keep_one_dry();
  }
  return changed;
}

bool PressureStep::is_in(const std::vector<DirectedLink>& links, std::int32_t from,
                         std::int32_t to) {
  return std::ranges::binary_search(links, std::pair(from, to), {},
                                    [](const DirectedLink& l) { return std::pair(l.from, l.to); });
}

/// Whether the body of resin an unknown belongs to has a way out, or a pressure that holds it: that
/// goes to is_free, and the body's name, its place there, to its unknowns. A body that has a way
/// out is named in part only.
void PressureStep::look_for_way_out(std::int32_t start, const std::vector<DirectedLink>& closed,
                                    std::vector<std::int32_t>& name_of,
                                    std::vector<std::uint8_t>& is_free) const {
  const auto name = static_cast<std::int32_t>(is_free.size());
  is_free.push_back(0);
  name_of[position(start)] = name;
  std::vector<std::int32_t> members{start};
  for (std::size_t at = 0; at < members.size() && !is_free.back(); ++at) {
    const std::int32_t full = members[at];
    bool leads_out = hose_[position(full)] > 0;
    for (std::int32_t k = matrix_.first[position(full)];
         k < matrix_.first[position(full) + 1] && !leads_out; ++k) {
      const std::int32_t neighbour = matrix_.column[position(k)];
      const State state = state_[position(neighbour)];
      const std::int32_t known = name_of[position(neighbour)];
      if (state == State::wet && known < 0) {
        name_of[position(neighbour)] = name;
        members.push_back(neighbour);
      }
      leads_out = state == State::held ||
                  (state == State::dry && !is_in(closed, full, neighbour)) ||
                  (state == State::wet && known >= 0 && known != name);
    }
    is_free.back() = leads_out ? 1 : 0; // another body that it turns out to be one with is free
  }
}

/// A body of resin that no pressure holds and that has no way out would have any pressure. The link
/// that would open first as its pressure rises is taken off the closed ones.
void PressureStep::keep_ways_out(std::vector<DirectedLink>& closed) const {
  if (closed.empty()) {
    return;
  }
  std::vector<std::int32_t> name_of(state_.size(), -1);
  std::vector<std::uint8_t> is_free;
  for (const DirectedLink& link : closed) {
    if (state_[position(link.from)] == State::wet && name_of[position(link.from)] < 0) {
      look_for_way_out(link.from, closed, name_of, is_free);
    }
  }
  std::vector<std::size_t> opened(is_free.size(), closed.size()); // of each body that is not
  const auto rise = [&](std::size_t k) {
    return u_[position(closed[k].to)] - u_[position(closed[k].from)];
  };
  for (std::size_t k = 0; k < closed.size(); ++k) {
    const std::int32_t name = name_of[position(closed[k].from)];
    if (name >= 0 && !is_free[position(name)]) {
      std::size_t& first = opened[position(name)];
      first = first == closed.size() || rise(k) < rise(first) ? k : first;
    }
  }
  std::ranges::sort(opened, std::ranges::greater{});
  for (const std::size_t k : opened) {
    if (k < closed.size()) {
      closed.erase(closed.begin() + static_cast<std::ptrdiff_t>(k));
    }
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
      const bool is_known = !is_fresh_[j] && !is_fresh_[position(full)];
      if (carries(full) && u_[position(full)] <= u_[j] && is_known) {
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

/// Whether a port by pressure is open and works the wrong way, or would work the right way and is
/// not.
bool PressureStep::is_misplaced(std::size_t k) const {
  const Port& port = input_.ports[k];
  const std::size_t i = position(port.unknown);
  if (port.volume || state_[i] == State::idle || state_[i] == State::dry) {
    return false;
  }
  const double sign = port.lets_out ? -1 : 1;
  const double noise = 1e-9 * system_.volume[i];
  return port_is_open_[k] ? sign * inflow_of_port(k) < -noise
                          : sign * (port.impulse - u_[i]) * matrix_.diagonal[i] > noise;
}

bool PressureStep::ports_work() const {
  const auto ports = std::views::iota(std::size_t{0}, input_.ports.size());
  return std::ranges::none_of(ports, [&](std::size_t k) { return is_misplaced(k); });
}

/// Closes ports by pressure that work the wrong way, opens those that would work the right way.
bool PressureStep::change_ports() {
  bool changed = false;
  for (std::size_t k = 0; k < input_.ports.size(); ++k) {
    if (is_misplaced(k)) {
      apply_port(k, !port_is_open_[k]);
      changed = true;
    }
  }
  if (changed) {
    rebuild_border();
    collect_active();
    keep_one_dry();
    if (!is_level_) {
      change_links(); // a body whose only port has closed needs another way out
    }
  }
  return changed;
}

/// The unknowns near the front: the border and what is wet within some layers of it, from the
/// inside out.
void PressureStep::collect_band(int layers) {
  band_.assign(border_.begin(), border_.end());
  std::size_t layer_begin = 0;
  for (int layer = 0; layer < layers; ++layer) {
    const std::size_t layer_end = band_.size();
    for (std::size_t at = layer_begin; at < layer_end; ++at) {
      const std::size_t i = position(band_[at]);
      for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
        const std::int32_t neighbour = matrix_.column[position(k)];
        if (state_[position(neighbour)] == State::wet &&
            position(neighbour) >= system_.seats.size() && !in_band_[position(neighbour)]) {
          in_band_[position(neighbour)] = 1;
          band_.push_back(neighbour);
        }
      }
    }
    layer_begin = layer_end;
  }
  for (const std::int32_t unknown : band_) {
    const std::size_t i = position(unknown);
    in_band_[i] = 0;
    at_air_[i] =
        std::ranges::all_of(matrix_.neighbours(unknown), [&](std::int32_t j) { return carries(j); })
            ? 0
            : 1;
  }
  std::ranges::reverse(band_);
}

/// u of a full unknown that balances its flow, the others as they are: out of dry ones comes
/// nothing, so that the lowest of them open first.
double PressureStep::level_with_one_way_links(std::int32_t unknown) {
  const std::size_t i = position(unknown);
  if (!at_air_[i]) {
    return (source_[i] + matrix_.gathered(i, u_)) / matrix_.diagonal[i];
  }
  double diagonal = hose_[i];
  double sum = source_[i];
  double below = 0; // conductance of the dry ones that are below it now
  double from_below = 0;
  dry_beside_.clear();
  for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
    const std::int32_t j = matrix_.column[position(k)];
    const double level = u_[position(j)];
    const double c = matrix_.link[position(k)];
    if (carries(j)) {
      diagonal += c;
      sum += c * level;
    } else if (state_[position(j)] == State::dry) {
      dry_beside_.emplace_back(level, c);
      below += level < u_[i] ? c : 0;
      from_below += level < u_[i] ? c * level : 0;
    }
  }
  const auto changes_side = [&](const std::pair<double, double>& dry) {
    return (dry.first < u_[i]) != (dry.first * (diagonal + below) < sum + from_below);
  };
  if (diagonal + below > 0 && std::ranges::none_of(dry_beside_, changes_side)) {
    return (sum + from_below) / (diagonal + below); // mostly
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

/// One unknown of a sweep: u_i = what makes the cell just full, but not below the floor. Returns by
/// how much that changes what it holds [-]; 1 where it changes its state.
double PressureStep::relax(std::int32_t unknown, std::vector<std::int32_t>& band) {
  const std::size_t i = position(unknown);
  const double floor = floor_of(unknown);
  const bool is_dry = state_[i] == State::dry;
  // The band's inner border delivers what it is asked for: resin would run too far down a channel.
  const bool keeps_state = !is_level_ && is_channel_[i];
  if (keeps_state && is_dry) {
    return 0;
  }
  const double level = is_level_ ? (source_[i] + matrix_.gathered(i, u_)) / matrix_.diagonal[i]
                       : is_dry  ? floor + excess_when_dry(unknown) / matrix_.diagonal[i]
                                 : level_with_one_way_links(unknown);
  if (level > floor && is_dry) {
    const std::size_t known = border_.size();
    make_wet(unknown);
    band.insert(band.end(), border_.begin() + static_cast<std::ptrdiff_t>(known), border_.end());
    u_[i] = level;
    return 1;
  }
  if (!(level > floor) && !is_dry && !keeps_state && (is_level_ || may_leave(unknown))) {
    make_dry(unknown);
    return 1;
  }
  if (is_dry) {
    return 0;
  }
  const double change = std::abs(level - u_[i]) * matrix_.diagonal[i] / system_.volume[i];
  u_[i] = level;
  return change;
}

/// What is beside an unknown that has changed is swept again.
void PressureStep::stir_beside(std::int32_t unknown) {
  for (const std::int32_t neighbour : matrix_.neighbours(unknown)) {
    is_calm_[position(neighbour)] = 0;
  }
}

/// The same in and round a pocket whose floor has changed.
void PressureStep::stir_pocket(const AirPocket& pocket) {
  for (const std::int32_t unknown : pocket.unknowns) {
    is_calm_[position(unknown)] = 0;
    stir_beside(unknown);
  }
}

/// Projected Gauss-Seidel sweeps over the band, over what is not calm yet. They move the front to
/// where the flow from behind takes it, at a small part of a solve's cost.
void PressureStep::relax_band() {
  collect_band(wide.layers);
  for (const std::int32_t unknown : band_) {
    is_calm_[position(unknown)] = 0;
  }
  level_pockets(true);
  bool is_moving = true;
  for (int sweep = 0; sweep < wide.sweeps && is_moving; ++sweep) {
    is_moving = false;
    for (std::size_t at = 0; at < band_.size(); ++at) {
      const std::int32_t unknown = band_[at];
      const State state = state_[position(unknown)];
      const bool is_free = state == State::dry || state == State::wet;
      if (!is_free || std::exchange(is_calm_[position(unknown)], 1)) {
        continue;
      }
      if (relax(unknown, band_) > notable_change) {
        stir_beside(unknown);
        is_moving = true;
      }
      const auto k = state_[position(unknown)] == state ? std::nullopt : small_pocket_of(unknown);
      if (k) {
        level_pocket(*k);
        stir_pocket(input_.pockets[*k]);
      }
    }
    if (sweep % sweeps_between_pockets == 0) {
      level_pockets(true);
      std::ranges::for_each(input_.pockets, [&](const AirPocket& p) { stir_pocket(p); });
    }
  }
  collect_active();
  keep_one_dry();
}

/// Gauss-Seidel sweeps over what is wet of the band, so that the links suit the pressures before a
/// solve.
void PressureStep::level_band() {
  collect_band(narrow.layers);
  for (int sweep = 0; sweep < narrow.sweeps; ++sweep) {
    for (const std::int32_t unknown : band_) {
      if (state_[position(unknown)] == State::wet) {
        u_[position(unknown)] = level_with_one_way_links(unknown);
      }
    }
    if (!is_cautious_) {
      level_pockets(false);
    }
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
