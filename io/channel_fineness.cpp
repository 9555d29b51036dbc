#include "io/channel_fineness.hpp"

#include "io/spoken.hpp"
#include "io/wording.hpp"
#include "solver/beside_channels.hpp"

namespace tidemark {

namespace {

constexpr std::string_view remedy = "The option --finer-channels divides these elements.";

} // namespace

std::vector<std::string> channel_notes(const FillProblem& problem, std::size_t runners) {
  constexpr double tolerable = 1.25;
  std::vector<std::string> notes;
  const std::vector<double> delays = delays_by_laminate(problem);
  for (std::size_t i = 0; i < problem.channels.size(); ++i) {
    if (delays[i] > tolerable) {
      notes.push_back("The front in the " + std::string(i < runners ? "runner " : "race track ") +
                      quoted_text(problem.channels[i].name) + " comes up to " +
                      rough_number(delays[i]) +
                      " times too late, most where the laminate is tight: half of each element "
                      "beside it fills with it. " +
                      std::string(remedy));
    }
  }
  return notes;
}

bool is_channel_note(std::string_view note) {
  return note.ends_with(remedy);
}

} // namespace tidemark
