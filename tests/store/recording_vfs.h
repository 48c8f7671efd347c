#pragma once
// A layer under SQLite that writes down everything it does to its files, so that the disk as a power cut leaves it can
// be made from any moment; and that can refuse writes as a full disk does.
#include <sqlite3.h>

#include <cstdint>
#include <map>
#include <random>
#include <string>
#include <vector>

namespace provenit::store {

/// One thing that happened to a file, in order.
struct DiskEvent {
  enum class Kind { create, write, truncate, sync, remove, acknowledge };
  Kind kind;
  std::string file;         ///< full path; empty for acknowledge
  std::int64_t number = 0;  ///< write: offset; truncate: size; acknowledge: what was acknowledged
  std::string bytes;        ///< write
};

/// SQLite's default file system while it lives. One at a time; connections must be closed before it goes. The index of
/// the log (-shm) lives in memory and is not recorded.
class RecordingVfs {
 public:
  RecordingVfs();
  RecordingVfs(const RecordingVfs&) = delete;
  RecordingVfs& operator=(const RecordingVfs&) = delete;
  ~RecordingVfs();

  void acknowledge(std::int64_t number);
  [[nodiscard]] const std::vector<DiskEvent>& events() const;

  enum class Fault { none, disk_full, write_protected };
  void set_fault(Fault fault);

  struct State;

 private:
  sqlite3_vfs vfs_{};
};

/// The disk at each moment of a recording: what was synced is certain; of what was written since then, each write may
/// have reached the disk or not, whole or in some of its 512-byte sectors. (SQLite's own assumption holds: a write
/// harms no bytes beside those it writes.)
class Disk {
 public:
  void apply(const DiskEvent& event);
  /// Every file as it may be found after a power cut now: path to content.
  [[nodiscard]] std::map<std::string, std::string> after_power_cut(std::mt19937_64& random) const;
  [[nodiscard]] std::int64_t acknowledged() const { return acknowledged_; }

 private:
  /// One file from its creation to its removal.
  struct File {
    std::string durable;
    std::vector<DiskEvent> pending;
    bool created_for_certain = false;
    bool removed = false;
  };
  std::map<std::string, std::vector<File>> files_;
  std::int64_t acknowledged_ = -1;
};

}  // namespace provenit::store
