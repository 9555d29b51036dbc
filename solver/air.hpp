// The air ahead of the front: which dry places hang together, and at what pressure.
#pragma once

#include "solver/filling.hpp"
#include "solver/flow_system.hpp"

#include <cstdint>
#include <span>
#include <vector>

namespace tidemark {

/// Connected unknowns that are not full.
struct AirPiece {
  std::vector<std::int32_t> unknowns;
  double volume = 0;      // of air [m3]
  double pressure = 0;    // gauge [Pa]
  double intake_rate = 0; // of resin since the update before, if it was sealed then [m3/s]
  bool is_vented = false; // an open vent is in it
  bool is_sealed = false; // keeps its amount of air; neither: it stays at its pressure
  double sealed_volume = 0, sealed_pressure = 0, sealed_at = 0; // when it was shut in
};

/// Air with an open vent has the vent's pressure, the lowest if there are several; a vent is open
/// while one of its nodes is not full. Air without one keeps pressure times volume (isothermal, in
/// absolute pressure): shared out by volume when a piece splits, added when pieces join. Some stay
/// at their pressure and can be filled altogether; they are listed as suspect: air thinner than
/// `thinnest`, air that took up less than two cells of the mesh when it was shut in, and air
/// pressed into less than a thousandth of a cell, whose amount goes to the largest piece it split
/// from: it stays apart while that is not much larger, and is listed if there is none. If
/// FillProblem::sealed_air is false, so do all, and nothing is listed.
class Air {
public:
  /// users_nodes: of all nodes the part [-] that the mesh had before any of its elements were
  /// divided; a cell counts as large as it was then.
  Air(const FillProblem& problem, const FlowSystem& system, double users_nodes = 1);

  /// Finds the pieces at the given fill fractions [-] and time [s], from those found before.
  void update(std::span<const double> fill, double time);
  /// The same after gates were tied or untied, which moves cells from one unknown to another: the
  /// air of gate g now has the gauge pressure [Pa] given, that of all others the one it had. To be
  /// called with the time of the last update.
  void regroup(std::span<const double> gate_pressure, std::span<const double> fill);

  [[nodiscard]] const std::vector<AirPiece>& pieces() const { return pieces_; }
  /// Gauge pressure of the air at each unknown, of the last there was [Pa].
  [[nodiscard]] const std::vector<double>& pressure() const { return pressure_; }
  /// True if all that is dry has front_pressure(problem) and none of it is sealed.
  [[nodiscard]] bool is_uniform() const { return is_uniform_; }
  /// Volume of all sealed pieces [m3].
  [[nodiscard]] double sealed_volume() const;
  [[nodiscard]] const std::vector<SuspectZone>& suspects() const { return suspects_; }
  /// Index in pieces() of each unknown, or -1 if it is full.
  [[nodiscard]] const std::vector<std::int32_t>& piece_of() const { return piece_of_; }

private:
  static constexpr double thinnest = 10; // absolute [Pa]

  void press_sealed_pieces(std::span<const double> fill, double time);
  void find_pieces(std::span<const double> fill, double time);
  [[nodiscard]] bool stays_as_it_is() const;
  AirPiece connected_piece(std::int32_t start, std::span<const double> fill,
                           std::vector<std::int32_t>& label, std::int32_t name) const;
  void judge(AirPiece& piece, std::span<const double> fill, double time);
  void seal(AirPiece& piece, double time);
  void share_sealed_volumes(std::vector<AirPiece>& pieces) const;
  void gather_slivers(std::vector<AirPiece>& pieces);
  void suspect(const AirPiece& piece, double volume, double pressure, double time);

  const FillProblem& problem_;
  const FlowSystem& system_;
  std::vector<AirPiece> pieces_;
  std::vector<std::int32_t> piece_of_;
  std::vector<double> pressure_;
  std::vector<double> vent_pressure_; // of the vent at each unknown, NaN where there is none [Pa]
  std::vector<SuspectZone> suspects_;
  PerNode<RegionId> regions_; // if air can be shut in
  double time_ = 0;           // of the last update [s]
  double cell_ = 0;           // mean pore volume of an unknown [m3]
  bool is_uniform_ = true;
  bool is_first_ = true;
};

/// The node an unknown stands for; a seat's first.
NodeId node_of_unknown(const FlowSystem& system, std::int32_t unknown);

} // namespace tidemark
