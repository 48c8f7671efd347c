#pragma once
// A job on the nodes of a Slurm cluster, by its own commands (sbatch, squeue). docs/farm.md.
#include <map>

#include "provenit/farm/work.h"

namespace provenit::farm {

struct QueueOptions {
  std::string partition;            ///< empty: the cluster's own
  int tries = 3;                    ///< how often a part is given to the engine before it counts as lost, 1 to 100
  int cpus = 1;                     ///< per task, 1 to 1024
  int minutes = 0;                  ///< limit of each task; 0: the partition's
  int memory_mb = 0;                ///< per task; 0: the partition's
  std::string name;                 ///< of the jobs; empty: the folder's
  std::vector<std::string> others;  ///< handed to sbatch as they are: "--account=film"
};

/// One submission of a title.
struct Submission {
  std::size_t title = 0;
  std::vector<std::size_t> parts;  ///< those in the array; empty: only the merge
  std::string array, merge;        ///< numbers of the jobs; empty: there is none
  int attempt = 1;                 ///< 1 to QueueOptions::tries
};

/// Gives the engine what is not there yet: for each title an array of its missing parts, and a job that joins them once
/// the array has ended. A title that is in the queue is left alone. Errors: unsupported if sbatch is not here;
/// out_of_range for options; io with what sbatch said.
[[nodiscard]] Result<std::vector<Submission>> submit(const Job& job, const QueueOptions& options);

/// What the job after an array does: joins the parts; where some are missing, gives them to the engine again, up to
/// the number of tries. Parts that were refused (a changed title, a wrong option) are not tried again.
struct Followed {
  std::optional<Submission> again;
};
/// Errors: those of make_title; not_found naming the parts that are lost, after how many tries and why.
[[nodiscard]] Result<Followed> follow(const Job& job, std::size_t title, const Worker& worker);

/// The newest submission of a title, as the folder keeps it. Errors: io, invalid_input.
[[nodiscard]] Result<std::optional<Submission>> submission_of(const Job& job, std::size_t title);

/// States of the jobs as squeue names them ("PENDING", "RUNNING"), by job number, with "_" and the task's number for
/// tasks of an array; those that ended are not among them. Errors: io, also if squeue does not answer within 10 s.
[[nodiscard]] Result<std::map<std::string, std::string>> queue_states(const std::vector<Submission>& submissions);

}  // namespace provenit::farm
