// The force with which resin and fibres part the mould halves.
#pragma once

#include "solver/filling.hpp"
#include "solver/mean_line.hpp"

namespace tidemark {

/// What of the cavity the two halves of the mould touch, seen along the closing direction d. Each
/// half feels the faces that no others hide from it; what lies between, as a core in a hollow part,
/// is in balance and hands on what it feels. At each node a third of |A . d| of its triangles, as
/// far as they are seen [m2]: a field linear on the triangles, times these, adds up to its integral
/// over what is seen.
struct HalfAreas {
  PerNode<double> upper;     // of the half on the side that d points to
  PerNode<double> lower;     // of the other; empty where nothing is hidden, and both are alike
  double projected_area = 0; // of either: scaled to the mean, since it is tried at points [m2]
  double faces = 0;          // |A . d| of all, those behind each other counted each [m2]
};
HalfAreas half_areas(const ShellMesh& mesh, const Vector3& closing_direction);

/// Sum over what a half touches of (pressure that closes the dry stack) |A . d|, for the half that
/// feels more. It does not change while the
/// mould stays shut: the fibres fill the same room, and what they bear comes on top of the pressure
/// of the resin (effective stress: Terzaghi 1943, Theoretical Soil Mechanics, from memory). Nothing
/// without a mould.
FibrePush fibre_push(const FillProblem& problem);

/// The push of the full part at rest,
///     F(p) = sum over what a half touches of (p + rho g (z_head - z)) |A . d| + push of the
///     fibres,
/// for the half that feels more. As in the filling the head stands at the mean height of all gates
/// on its pump; with several pumps at the highest gate. Nowhere is the pressure taken for less than
/// that of the air ahead. Nothing without a mould.
RestingPush resting_push(const FillProblem& problem);

/// How much higher than the head of the push at rest a pump's own stands, rho g z [Pa], never
/// positive with several pumps: of the pump of one gate, or of the one that feeds those without a
/// pump of their own. 0 without gravity.
double rise_of_head(const FillProblem& problem, std::optional<std::size_t> own_gate);

/// The pressure that lifts resin at rest from a head to the highest place of the part [Pa gauge]:
/// below it, the part does not fill. None without gravity.
std::optional<double> pressure_to_the_top(const FillProblem& problem,
                                          std::optional<std::size_t> own_gate);

/// The push on the full part with its pumps off and no pressure left at the gates, of the weight of
/// the resin and of the fibres [N], where that is positive and more than any on the way. None of a
/// part that is not full, without gravity, or with several pumps.
std::optional<double> push_of_weight(const FillProblem& problem, const FillResult& result);

/// The push of the full part at rest under the highest pressure that any head has come to [N]; with
/// gravity and several pumps, that any gate has. Precondition: result.mould_load.
double push_at_highest_head(const FillProblem& problem, const FillResult& result);

/// Whether the cap changes on the way, or comes with a stage.
bool stages_set_cap(const Injector& injector);

/// The highest cap a pump may come to that is left on after a filling: that in force at its end, or
/// in a stage whose time comes later [Pa gauge]. None without a cap. injected: by this pump [m3].
std::optional<double> cap_left_on(const Injector& injector, double end_time, double injected);

/// What pumps that stay on bring a full part to, whose vents are shut.
struct LeftOn {
  double cap;   // of the pump that presses hardest of those with a gate open at the end [Pa gauge]
  double force; // that opens the mould then [N]; 0 without a mould
  std::optional<std::size_t> gate = {}; // whose own pump that is; none: the common one
};
/// None if no gate is open at the end, or a pump has no cap.
std::optional<LeftOn> left_on(const FillProblem& problem, const FillResult& result);

/// The push once a pump left on has brought all that is wet of a part, short since resin mixed
/// inline gelled at its front, to its cap [N]: behind a front that stands the pressure becomes
/// level. (A batch gels all at once.) None of another part, without a mould or a cap, or with
/// gravity.
std::optional<double> push_behind_gel(const FillProblem& problem, const FillResult& result);

/// Whether one pump feeds all gates, and no other stands at a height or cap of its own.
bool has_one_pump(const FillProblem& problem);

/// Follows the opening force
///     F = sum over triangles of (mean gauge pressure) |A . d| + push of the fibres  [N]
/// on the half that the resin pushes more, through a filling, each step in O(nodes). Below ambient
/// pressure the first is negative: the vacuum in the cavity then helps to hold the mould shut.
class MouldLoadMeter {
public:
  /// start_pressure: gauge, at the nodes before the injection [Pa]. Precondition: problem.mould.
  MouldLoadMeter(const FillProblem& problem, const PerNode<double>& start_pressure);

  /// Opening force of a gauge pressure field [N].
  [[nodiscard]] double opening_force(const PerNode<double>& pressure) const;

  /// Takes a step and returns its opening force [N]. time: its end [s]; pressure: gauge, mean over
  /// the step [Pa]; volume: injected in it [m3]; head_pressure: gauge, at its end [Pa]. Steps come
  /// in the order of time.
  double after_step(double time, const PerNode<double>& pressure, double volume,
                    double head_pressure);

  /// The same of a step within the second half of the last layer of cells. While that fills, cells
  /// already full come under the pressure of the gates one by one, and the mean over the step is
  /// that of the mesh more than of the part; the force at a time `at` within the step is read off
  /// the straight line through the last steps before, by least squares over three layers of cells,
  /// instead, within what the lowest and highest pressure so far, or the highest at the gates at
  /// the end of the step, gauge [Pa], could do everywhere. layer: pore volume of one [m3].
  double in_last_layer(double at, double time, double layer, double head_pressure,
                       double gate_pressure);
  /// Something has switched: a line is led on through the steps that follow only.
  void forget_course() { means_.clear(); }

  /// The load up to the last step. The peak counts from the start; its time is the end of its step
  /// and thus a time of the history. When the force first exceeds the hold-down force is read off a
  /// straight line between the means of two steps, each at mid-step, the head pressure at that
  /// moment off one between their ends. A mould that gapes before the injection lifts at 0 s, and
  /// has no head pressure then.
  [[nodiscard]] const MouldLoad& load() const { return load_; }

private:
  double take(double force, double middle, double time, double head_pressure);
  void find_lift(double middle, double time, double force, double head_pressure);

  HalfAreas areas_;
  MouldLoad load_{};
  double time_ = 0;              // end of the last step [s]
  double middle_ = 0;            // of the last step [s]
  double lowest_pressure_;       // anywhere so far, gauge [Pa]
  double force_ = 0;             // mean over the last step [N]
  std::vector<StepMean> means_;  // of the force [N]
  std::optional<double> head_{}; // at the end of the last step [Pa]
};

} // namespace tidemark
