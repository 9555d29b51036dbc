// Which gates are open, and which of them share the pressure of one pump.
#pragma once

#include "solver/flow_system.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

namespace tidemark {

/// True if the front has reached all nodes of a gate or vent that resin can reach at all. is_full
/// tells it of an unknown.
bool is_reached(const FillProblem& problem, const FlowSystem& system, const PortRef& port,
                const std::function<bool(std::int32_t)>& is_full);

/// Mean height of nodes as rho g z [Pa]; with gravity only.
double mean_height_of_nodes(const FillProblem& problem, std::span<const NodeId> nodes);

/// Mean of the heights of gates, each that of its nodes in the mean, as rho g z [Pa]; with gravity
/// only. Hoses full of resin join the gates of a pump: its pressure is that at this height,
/// whichever of them are open.
double mean_height(const FillProblem& problem, std::span<const std::size_t> gates);

/// Opens and closes gates at their moments. A gate that was closed again stays closed.
class GateControl {
public:
  GateControl(const FillProblem& problem, const FlowNetwork& network, const FlowSystem& system);

  /// Opens and closes what is due at a time [s] and with fill fractions [-]. When the set of open
  /// gates changes, ties those of each pump in the system anew, mixes and parts the fill fractions
  /// of their cells so that no resin is lost, and returns true.
  bool update(FlowSystem& system, std::span<double> fill, double time);

  /// The next time [s] after the given one at which a gate opens or closes; infinite without one.
  [[nodiscard]] double next_time(double time) const;
  /// Ports whose being reached will open or close a gate.
  [[nodiscard]] std::vector<PortRef> awaited() const;
  /// The unknown that the open ones among these gates share, or -1 if none is open.
  [[nodiscard]] std::int32_t root(std::span<const std::size_t> gates) const;

  [[nodiscard]] bool is_open(std::size_t gate) const { return opened_[gate] && !closed_[gate]; }
  [[nodiscard]] std::optional<double> opened_at(std::size_t gate) const { return opened_[gate]; }
  [[nodiscard]] std::optional<double> closed_at(std::size_t gate) const { return closed_[gate]; }
  /// Of the cells of a seat [m3], and the unknown it belongs to.
  [[nodiscard]] double volume(std::size_t seat) const { return volume_[seat]; }
  [[nodiscard]] std::int32_t unknown(std::size_t seat) const { return root_[seat]; }
  /// Part of what fills the cells of the open gates among those given, one pump's, that goes into
  /// those of gate g [-]: by the room they had when the gates were tied.
  [[nodiscard]] double share_of_cells(std::size_t gate, std::span<const std::size_t> gates) const;

private:
  [[nodiscard]] bool is_due(const Moment& moment, const FlowSystem& system,
                            std::span<const double> fill, double time) const;
  void tie(FlowSystem& system, std::span<double> fill);

  const FillProblem& problem_;
  const FlowNetwork& network_;
  std::vector<std::optional<double>> opened_, closed_; // [s]
  std::vector<std::size_t> gate_of_;                   // of each seat ...
  std::vector<std::int32_t> root_;
  std::vector<double> volume_;
  std::vector<double> room_; // of its cells, when the seats were last tied [m3]
};

} // namespace tidemark
