#include "io/channel_fineness.hpp"

#include "io/spoken.hpp"
#include "io/wording.hpp"
#include "solver/beside_channels.hpp"

namespace tidemark {

std::vector<std::string> channel_notes(const FillProblem& problem, std::size_t runners) {
  constexpr double tolerable = 1.25;
  std::vector<std::string> notes;
  for (std::size_t i = 0; i < problem.channels.size(); ++i) {
    const double delay = delay_by_laminate(problem, problem.channels[i]);
    if (delay > tolerable) {
      notes.push_back("The front in the " + std::string(i < runners ? "runner " : "race track ") +
                      quoted_text(problem.channels[i].name) + " comes up to " +
                      rough_number(delay) +
                      " times too late, most where the laminate is tight: half of each element "
                      "beside it fills with it. fill --finer-channels divides these elements.");
    }
  }
  return notes;
}

} // namespace tidemark
