// The only file that knows MPI. TIDEMARK_HAS_MPI is set by CMake where there is one.
#include "io/process_team.hpp"

#include "mesh/error.hpp"

#ifdef TIDEMARK_HAS_MPI
#include <mpi.h>
#endif

#include <array>
#include <chrono>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <thread>
#include <vector>

namespace tidemark {

namespace {

/// What launchers tell the processes they start: Open MPI, MPICH and its kin, PMIx (SLURM).
bool was_launched() {
  for (const char* name : {"OMPI_COMM_WORLD_SIZE", "PMI_SIZE", "PMI_RANK", "PMIX_RANK"}) {
    if (std::getenv(name) != nullptr) {
      return true;
    }
  }
  return false;
}

#ifdef TIDEMARK_HAS_MPI

constexpr int question_tag = 1;
constexpr int answer_tag = 2;
constexpr std::int64_t no_number = -1;
constexpr std::int64_t leaving = -2; // in a question: there will be no more from there

/// MPI waits at full speed; the cores are for the fillings.
void rest() {
  std::this_thread::sleep_for(std::chrono::milliseconds(2));
}

MPI_Status wait_for(int source, int tag) {
  MPI_Status status;
  int has_come = 0;
  MPI_Iprobe(source, tag, MPI_COMM_WORLD, &has_come, &status);
  while (has_come == 0) {
    rest();
    MPI_Iprobe(source, tag, MPI_COMM_WORLD, &has_come, &status);
  }
  return status;
}

/// A number in front of a text.
std::string packed(std::int64_t number, const std::string& text) {
  std::string message(sizeof number, '\0');
  std::memcpy(message.data(), &number, sizeof number);
  return message + text;
}

std::int64_t number_in(const std::string& message) {
  std::int64_t number = no_number;
  std::memcpy(&number, message.data(), sizeof number);
  return number;
}

void ask(const std::string& message) {
  MPI_Send(message.data(), static_cast<int>(message.size()), MPI_BYTE, 0, question_tag,
           MPI_COMM_WORLD);
}

std::string received(const MPI_Status& status) {
  int length = 0;
  MPI_Get_count(&status, MPI_BYTE, &length);
  std::string message(static_cast<std::size_t>(length), '\0');
  MPI_Recv(message.data(), length, MPI_BYTE, status.MPI_SOURCE, status.MPI_TAG, MPI_COMM_WORLD,
           MPI_STATUS_IGNORE);
  return message;
}

#endif

} // namespace

#ifdef TIDEMARK_HAS_MPI

ProcessTeam::ProcessTeam() {
  if (!was_launched()) {
    return;
  }
  int support = 0;
  MPI_Init_thread(nullptr, nullptr, MPI_THREAD_FUNNELED, &support);
  has_joined_ = true;
  MPI_Comm_rank(MPI_COMM_WORLD, &rank_);
  MPI_Comm_size(MPI_COMM_WORLD, &size_);
}

ProcessTeam::~ProcessTeam() {
  if (!has_joined_) {
    return;
  }
  MPI_Request all_here = MPI_REQUEST_NULL;
  MPI_Ibarrier(MPI_COMM_WORLD, &all_here);
  int are_here = 0;
  MPI_Test(&all_here, &are_here, MPI_STATUS_IGNORE);
  while (are_here == 0) {
    rest();
    MPI_Test(&all_here, &are_here, MPI_STATUS_IGNORE);
  }
  MPI_Finalize();
}

std::optional<int> ProcessTeam::first_unready(bool is_ready) const {
  int lowest = is_ready ? size_ : rank_;
  if (size_ > 1) {
    const int own = lowest;
    MPI_Allreduce(&own, &lowest, 1, MPI_INT, MPI_MIN, MPI_COMM_WORLD);
  }
  return lowest == size_ ? std::nullopt : std::optional(lowest);
}

void ProcessTeam::lead(const std::function<std::optional<std::size_t>()>& next,
                       const std::function<void(std::size_t, std::string)>& take) const {
  for (int working = size_ - 1; working > 0;) {
    const MPI_Status status = wait_for(MPI_ANY_SOURCE, question_tag);
    const std::string message = received(status);
    const std::int64_t done = number_in(message);
    if (done == leaving) {
      --working;
      continue;
    }
    if (done != no_number) {
      take(static_cast<std::size_t>(done), message.substr(sizeof done));
    }
    const std::optional<std::size_t> number = next();
    const std::int64_t answer = number ? static_cast<std::int64_t>(*number) : no_number;
    MPI_Send(&answer, 1, MPI_INT64_T, status.MPI_SOURCE, answer_tag, MPI_COMM_WORLD);
    working -= number ? 0 : 1;
  }
}

void ProcessTeam::follow(const std::function<std::optional<std::string>(std::size_t)>& work) const {
  std::string message = packed(no_number, "");
  while (true) {
    ask(message);
    const MPI_Status status = wait_for(0, answer_tag);
    std::int64_t number = no_number;
    MPI_Recv(&number, 1, MPI_INT64_T, status.MPI_SOURCE, answer_tag, MPI_COMM_WORLD,
             MPI_STATUS_IGNORE);
    if (number == no_number) {
      return;
    }
    try {
      const std::optional<std::string> text = work(static_cast<std::size_t>(number));
      message = text ? packed(number, *text) : packed(no_number, "");
    } catch (...) {
      ask(packed(leaving, ""));
      throw;
    }
  }
}

#else

ProcessTeam::ProcessTeam() {
  const char* const size = std::getenv("OMPI_COMM_WORLD_SIZE");
  const char* const other = size != nullptr ? size : std::getenv("PMI_SIZE");
  if (was_launched() && other != nullptr && std::atoi(other) > 1) {
    throw InputError("found " + std::string(other) +
                     " processes started together, expected one: tidemark was built without MPI");
  }
}

ProcessTeam::~ProcessTeam() = default;

std::optional<int> ProcessTeam::first_unready(bool is_ready) const {
  return is_ready ? std::nullopt : std::optional(rank_);
}

void ProcessTeam::lead(const std::function<std::optional<std::size_t>()>& /*next*/,
                       const std::function<void(std::size_t, std::string)>& /*take*/) const {}

void ProcessTeam::follow(
    const std::function<std::optional<std::string>(std::size_t)>& /*work*/) const {}

#endif

} // namespace tidemark
