#include "solver/air.hpp"

#include "solver/last_filled.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace tidemark {

namespace {

/// Part of a piece's volume [-]: what larger ones hold it does not take over from them, else it
/// would be pressed harder than any resin presses it.
constexpr double most_taken_over = 1e-2;

} // namespace

NodeId node_of_unknown(const FlowSystem& system, std::int32_t unknown) {
  const std::size_t seats = system.seats.size();
  if (position(unknown) < seats) {
    return system.seats[position(unknown)].nodes.front();
  }
  return system.order[system.order.size() - system.size() + position(unknown)];
}

Air::Air(const FillProblem& problem, const FlowSystem& system, double users_nodes)
    : problem_(problem), system_(system), piece_of_(system.size(), -1),
      pressure_(system.size(),
                problem.sealed_air ? problem.cavity_pressure : front_pressure(problem)),
      vent_pressure_(system.size(), std::numeric_limits<double>::quiet_NaN()) {
  for (const Vent& vent : problem.vents) {
    for (const NodeId node : vent.nodes) {
      if (const std::int32_t unknown = system.unknown[node]; unknown >= 0) {
        double& known = vent_pressure_[position(unknown)];
        known = std::isnan(known) ? vent.pressure : std::min(known, vent.pressure);
      }
    }
  }
  if (problem.sealed_air) {
    regions_ = node_regions(problem);
  }
  cell_ = std::accumulate(system.volume.begin(), system.volume.end(), 0.0) /
          std::max(1.0, static_cast<double>(system.size()) * users_nodes);
}

/// Brings pressure_ of the sealed pieces to what their air takes up now.
void Air::press_sealed_pieces(std::span<const double> fill, double time) {
  for (AirPiece& piece : pieces_) {
    if (!piece.is_sealed) {
      continue;
    }
    double volume = 0;
    for (const std::int32_t unknown : piece.unknowns) {
      const std::size_t i = position(unknown);
      volume += fill[i] < full_fraction ? (1 - fill[i]) * system_.volume[i] : 0;
    }
    piece.intake_rate = time > time_ ? (piece.volume - volume) / (time - time_) : piece.intake_rate;
    const double absolute = (piece.pressure + problem_.ambient) * piece.volume;
    for (const std::int32_t unknown : piece.unknowns) {
      pressure_[position(unknown)] =
          volume > 0 ? absolute / volume - problem_.ambient : piece.pressure;
    }
  }
}

AirPiece Air::connected_piece(std::int32_t start, std::span<const double> fill,
                              std::vector<std::int32_t>& label, std::int32_t name) const {
  AirPiece piece;
  piece.unknowns.push_back(start);
  label[position(start)] = name;
  spread(system_.matrix, piece.unknowns, [&](std::int32_t unknown) {
    const std::size_t i = position(unknown);
    const bool joins = label[i] < 0 && fill[i] < full_fraction;
    label[i] = joins ? name : label[i];
    return joins;
  });
  for (const std::int32_t unknown : piece.unknowns) {
    const std::size_t i = position(unknown);
    piece.volume += (1 - fill[i]) * system_.volume[i];
  }
  return piece;
}

/// Gives a new piece its pressure and says whether its air is sealed.
void Air::judge(AirPiece& piece, std::span<const double> fill, double time) {
  double amount = 0; // absolute pressure times volume
  double lowest = std::numeric_limits<double>::infinity();
  double highest = -lowest;
  double vent = std::numeric_limits<double>::infinity();
  const AirPiece* from = nullptr; // the sealed one it comes from
  bool had_a_vent = is_first_;
  for (const std::int32_t unknown : piece.unknowns) {
    const std::size_t i = position(unknown);
    amount += (pressure_[i] + problem_.ambient) * (1 - fill[i]) * system_.volume[i];
    lowest = std::min(lowest, pressure_[i]);
    highest = std::max(highest, pressure_[i]);
    vent = std::isnan(vent_pressure_[i]) ? vent : std::min(vent, vent_pressure_[i]);
    if (piece_of_[i] >= 0) {
      const AirPiece& old = pieces_[position(piece_of_[i])];
      from = old.is_sealed ? &old : from;
      had_a_vent = had_a_vent || old.is_vented;
    } else {
      had_a_vent = true; // a gate that was tied to another and stands alone again
    }
  }
  piece.is_vented = std::isfinite(vent);
  const double mean = lowest == highest ? lowest : amount / piece.volume - problem_.ambient;
  piece.pressure = piece.is_vented ? vent : mean;
  if (piece.is_vented || !problem_.sealed_air) {
    return;
  }
  if (from != nullptr) {
    piece.is_sealed = true;
    piece.sealed_volume = from->sealed_volume;
    piece.sealed_pressure = from->sealed_pressure;
    piece.sealed_at = from->sealed_at;
    piece.intake_rate = from->intake_rate;
  } else if (had_a_vent) {
    seal(piece, time);
  }
}

/// The last vent of this air has just been reached, or it never had one.
void Air::seal(AirPiece& piece, double time) {
  const bool is_too_small = !is_first_ && piece.volume < 2 * cell_;
  const bool is_too_thin = piece.pressure + problem_.ambient < thinnest;
  piece.is_sealed = !is_too_small && !is_too_thin;
  piece.sealed_volume = piece.volume;
  piece.sealed_pressure = piece.pressure;
  piece.sealed_at = time;
  if (!piece.is_sealed) {
    suspect(piece, piece.volume, piece.pressure, time);
  }
}

void Air::suspect(const AirPiece& piece, double volume, double pressure, double time) {
  const auto& positions = problem_.mesh.positions;
  const auto place = [&](std::int32_t unknown) {
    return positions[node_of_unknown(system_, unknown)];
  };
  Vector3 centre = Vector3::Zero();
  for (const std::int32_t unknown : piece.unknowns) {
    centre += place(unknown) / static_cast<double>(piece.unknowns.size());
  }
  const std::int32_t nearest =
      *std::ranges::min_element(piece.unknowns, {}, [&](std::int32_t unknown) {
        return (place(unknown) - centre).squaredNorm();
      });
  const NodeId node = node_of_unknown(system_, nearest);
  suspects_.push_back({positions[node], volume, pressure, time, regions_[node]});
}

/// What is told of shut-in air that closes up: a part that split off tells of its share.
void Air::share_sealed_volumes(std::vector<AirPiece>& pieces) const {
  std::vector<double> whole(pieces_.size(), 0.0);
  const auto parent_of = [&](const AirPiece& piece) {
    const std::int32_t parent = piece_of_[position(piece.unknowns.front())];
    return parent >= 0 && pieces_[position(parent)].is_sealed ? parent : -1;
  };
  for (const AirPiece& piece : pieces) {
    if (const std::int32_t parent = parent_of(piece); parent >= 0) {
      whole[position(parent)] += piece.volume;
    }
  }
  for (AirPiece& piece : pieces) {
    if (const std::int32_t parent = parent_of(piece); piece.is_sealed && parent >= 0) {
      piece.sealed_volume *= piece.volume / whole[position(parent)];
    }
  }
}

/// What is left of a piece in a corner of a cell can no longer be told from rounding.
void Air::gather_slivers(std::vector<AirPiece>& pieces) {
  for (AirPiece& sliver : pieces) {
    if (!sliver.is_sealed || sliver.volume >= 1e-3 * cell_) {
      continue;
    }
    const std::int32_t parent = piece_of_[position(sliver.unknowns.front())];
    AirPiece* largest = nullptr;
    for (AirPiece& other : pieces) {
      const bool is_sibling = &other != &sliver && other.is_sealed && parent >= 0 &&
                              piece_of_[position(other.unknowns.front())] == parent;
      if (is_sibling && (largest == nullptr || other.volume > largest->volume)) {
        largest = &other;
      }
    }
    if (largest != nullptr && sliver.volume > most_taken_over * largest->volume) {
      continue;
    }
    sliver.is_sealed = false;
    if (largest != nullptr) {
      largest->pressure += (sliver.pressure + problem_.ambient) * sliver.volume / largest->volume;
    } else {
      suspect(sliver, sliver.sealed_volume, sliver.sealed_pressure, sliver.sealed_at);
    }
  }
}

/// Nothing is sealed and there is one pressure.
bool Air::stays_as_it_is() const {
  return !problem_.sealed_air && std::ranges::all_of(problem_.vents, [&](const Vent& vent) {
    return vent.pressure == problem_.vents.front().pressure;
  });
}

void Air::update(std::span<const double> fill, double time) {
  if (!stays_as_it_is()) {
    press_sealed_pieces(fill, time);
    find_pieces(fill, time);
  }
}

void Air::regroup(std::span<const double> gate_pressure, std::span<const double> fill) {
  if (!stays_as_it_is()) {
    std::ranges::copy(gate_pressure, pressure_.begin());
    find_pieces(fill, time_);
  }
}

void Air::find_pieces(std::span<const double> fill, double time) {
  std::vector<std::int32_t> label(system_.size(), -1);
  std::vector<AirPiece> pieces;
  for (std::size_t i = 0; i < system_.size(); ++i) {
    if (label[i] < 0 && system_.volume[i] > 0 && fill[i] < full_fraction) {
      const auto name = static_cast<std::int32_t>(pieces.size());
      pieces.push_back(connected_piece(static_cast<std::int32_t>(i), fill, label, name));
      judge(pieces.back(), fill, time);
    }
  }
  share_sealed_volumes(pieces);
  gather_slivers(pieces);
  for (const AirPiece& old : pieces_) {
    const bool is_gone = std::ranges::all_of(
        old.unknowns, [&](std::int32_t unknown) { return label[position(unknown)] < 0; });
    if (old.is_sealed && is_gone) {
      suspect(old, old.sealed_volume, old.sealed_pressure, old.sealed_at);
    }
  }
  pieces_ = std::move(pieces);
  piece_of_ = std::move(label);
  is_first_ = false;
  time_ = time;
  is_uniform_ = true;
  for (const AirPiece& piece : pieces_) {
    is_uniform_ = is_uniform_ && !piece.is_sealed && piece.pressure == front_pressure(problem_);
    for (const std::int32_t unknown : piece.unknowns) {
      pressure_[position(unknown)] = piece.pressure;
    }
  }
}

double Air::sealed_volume() const {
  double volume = 0;
  for (const AirPiece& piece : pieces_) {
    volume += piece.is_sealed ? piece.volume : 0;
  }
  return volume;
}

} // namespace tidemark
