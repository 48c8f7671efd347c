#include "recording_vfs.h"

#include <algorithm>
#include <cstring>
#include <stdexcept>
#include <string_view>

namespace provenit::store {

struct RecordingVfs::State {
  sqlite3_vfs* real = nullptr;
  std::vector<DiskEvent> events;
  Fault fault = Fault::none;
};

namespace {

RecordingVfs::State* state = nullptr;  // SQLite's C callbacks have no other way to it

struct RecordedFile {
  sqlite3_file base;
  const char* name;  ///< SQLite keeps it alive as long as the file is open; nullptr: not recorded
  sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};

RecordedFile* recorded(sqlite3_file* file) {
  return reinterpret_cast<RecordedFile*>(file);
}
sqlite3_file* real(sqlite3_file* file) {
  return recorded(file)->real();
}

void record(sqlite3_file* file, DiskEvent::Kind kind, std::int64_t number = 0, std::string bytes = {}) {
  if (const char* name = recorded(file)->name) state->events.push_back({kind, name, number, std::move(bytes)});
}

int close(sqlite3_file* f) {
  return real(f)->pMethods->xClose(real(f));
}
int read(sqlite3_file* f, void* to, int size, sqlite3_int64 at) {
  return real(f)->pMethods->xRead(real(f), to, size, at);
}
int write(sqlite3_file* f, const void* from, int size, sqlite3_int64 at) {
  if (state->fault == RecordingVfs::Fault::disk_full) return SQLITE_FULL;
  record(f, DiskEvent::Kind::write, at, std::string(static_cast<const char*>(from), static_cast<std::size_t>(size)));
  return real(f)->pMethods->xWrite(real(f), from, size, at);
}
int truncate(sqlite3_file* f, sqlite3_int64 size) {
  record(f, DiskEvent::Kind::truncate, size);
  return real(f)->pMethods->xTruncate(real(f), size);
}
int sync(sqlite3_file* f, int flags) {
  const int result = real(f)->pMethods->xSync(real(f), flags);
  if (result == SQLITE_OK) record(f, DiskEvent::Kind::sync);
  return result;
}
int file_size(sqlite3_file* f, sqlite3_int64* size) {
  return real(f)->pMethods->xFileSize(real(f), size);
}
int lock(sqlite3_file* f, int level) {
  return real(f)->pMethods->xLock(real(f), level);
}
int unlock(sqlite3_file* f, int level) {
  return real(f)->pMethods->xUnlock(real(f), level);
}
int check_lock(sqlite3_file* f, int* held) {
  return real(f)->pMethods->xCheckReservedLock(real(f), held);
}
int control(sqlite3_file* f, int op, void* arg) {
  return real(f)->pMethods->xFileControl(real(f), op, arg);
}
int sector_size(sqlite3_file* f) {
  return real(f)->pMethods->xSectorSize(real(f));
}
int characteristics(sqlite3_file* f) {
  return real(f)->pMethods->xDeviceCharacteristics(real(f));
}
int shm_map(sqlite3_file* f, int page, int size, int extend, void volatile** to) {
  return real(f)->pMethods->xShmMap(real(f), page, size, extend, to);
}
int shm_lock(sqlite3_file* f, int offset, int n, int flags) {
  return real(f)->pMethods->xShmLock(real(f), offset, n, flags);
}
void shm_barrier(sqlite3_file* f) {
  real(f)->pMethods->xShmBarrier(real(f));
}
int shm_unmap(sqlite3_file* f, int remove) {
  return real(f)->pMethods->xShmUnmap(real(f), remove);
}

// Version 2: the log's shared memory, but no memory-mapped files, whose writes would go past us.
constexpr sqlite3_io_methods methods{.iVersion = 2,
                                     .xClose = close,
                                     .xRead = read,
                                     .xWrite = write,
                                     .xTruncate = truncate,
                                     .xSync = sync,
                                     .xFileSize = file_size,
                                     .xLock = lock,
                                     .xUnlock = unlock,
                                     .xCheckReservedLock = check_lock,
                                     .xFileControl = control,
                                     .xSectorSize = sector_size,
                                     .xDeviceCharacteristics = characteristics,
                                     .xShmMap = shm_map,
                                     .xShmLock = shm_lock,
                                     .xShmBarrier = shm_barrier,
                                     .xShmUnmap = shm_unmap,
                                     .xFetch = nullptr,
                                     .xUnfetch = nullptr};

int open(sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* out_flags) {
  const bool lasts = (flags & (SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_WAL)) != 0;
  if (lasts && state->fault == RecordingVfs::Fault::write_protected) {
    if ((flags & SQLITE_OPEN_WAL) != 0) return SQLITE_CANTOPEN;
    flags = (flags & ~(SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE)) | SQLITE_OPEN_READONLY;
  }
  int there = 0;
  if (lasts) state->real->xAccess(state->real, name, SQLITE_ACCESS_EXISTS, &there);
  file->pMethods = nullptr;
  recorded(file)->name = lasts ? name : nullptr;
  const int result = state->real->xOpen(state->real, name, real(file), flags, out_flags);
  if (real(file)->pMethods != nullptr) file->pMethods = &methods;
  if (result == SQLITE_OK && lasts && there == 0) record(file, DiskEvent::Kind::create);
  return result;
}

int remove(sqlite3_vfs*, const char* name, int sync_folder) {
  state->events.push_back({DiskEvent::Kind::remove, name, 0, {}});
  return state->real->xDelete(state->real, name, sync_folder);
}

}  // namespace

RecordingVfs::RecordingVfs() {
  if (state != nullptr) throw std::logic_error("one recording at a time");
  state = new State{.real = sqlite3_vfs_find(nullptr), .events = {}};
  vfs_ = *state->real;
  vfs_.szOsFile += static_cast<int>(sizeof(RecordedFile));
  vfs_.zName = "recording";
  vfs_.pNext = nullptr;
  // The other entries work on names alone, or on pAppData, which is the real one's.
  vfs_.xOpen = open;
  vfs_.xDelete = remove;
  sqlite3_vfs_register(&vfs_, 1);
}

RecordingVfs::~RecordingVfs() {
  sqlite3_vfs_unregister(&vfs_);
  sqlite3_vfs_register(state->real, 1);
  delete state;
  state = nullptr;
}

void RecordingVfs::acknowledge(std::int64_t number) {
  state->events.push_back({DiskEvent::Kind::acknowledge, {}, number, {}});
}

const std::vector<DiskEvent>& RecordingVfs::events() const {
  return state->events;
}

void RecordingVfs::set_fault(Fault fault) {
  state->fault = fault;
}

namespace {

void overwrite(std::string& content, std::int64_t at, std::string_view bytes) {
  const auto begin = static_cast<std::size_t>(at);
  if (content.size() < begin + bytes.size()) content.resize(begin + bytes.size());
  content.replace(begin, bytes.size(), bytes);
}

void apply_whole(std::string& content, const DiskEvent& event) {
  if (event.kind == DiskEvent::Kind::truncate)
    content.resize(static_cast<std::size_t>(event.number));
  else
    overwrite(content, event.number, event.bytes);
}

/// Each 512-byte sector of the file that the write touches reaches the disk or not.
void apply_torn(std::string& content, const DiskEvent& event, std::mt19937_64& random) {
  if (event.kind == DiskEvent::Kind::truncate) return;
  constexpr std::int64_t sector = 512;
  const auto end = event.number + static_cast<std::int64_t>(event.bytes.size());
  for (auto at = event.number; at < end;) {
    const auto next = std::min(end, (at / sector + 1) * sector);
    const auto piece = std::string_view(event.bytes)
                           .substr(static_cast<std::size_t>(at - event.number), static_cast<std::size_t>(next - at));
    if (random() % 2 == 0) overwrite(content, at, piece);
    at = next;
  }
}

}  // namespace

void Disk::apply(const DiskEvent& event) {
  using Kind = DiskEvent::Kind;
  if (event.kind == Kind::acknowledge) {
    acknowledged_ = event.number;
    return;
  }
  auto& lives = files_[event.file];
  if (event.kind == Kind::create) {
    lives.emplace_back();
    return;
  }
  if (lives.empty()) lives.push_back({.durable = {}, .pending = {}, .created_for_certain = true});
  File& file = lives.back();
  if (event.kind == Kind::remove) {
    file.removed = true;
  } else if (event.kind == Kind::sync) {
    for (const auto& pending : file.pending) apply_whole(file.durable, pending);
    file.pending.clear();
    // A new file's first sync is followed by one of its folder: SQLite asks for that, see xOpen of its unix file
    // system.
    file.created_for_certain = true;
    lives.erase(lives.begin(), lives.end() - 1);
  } else {
    file.pending.push_back(event);
  }
}

std::map<std::string, std::string> Disk::after_power_cut(std::mt19937_64& random) const {
  enum class Mood { nothing_more, everything, some, torn };
  const auto mood = static_cast<Mood>(random() % 4);
  std::map<std::string, std::string> found;
  for (const auto& [name, lives] : files_) {
    // Removals and new names that were not made durable may be seen or not: any of the name's lives, or none.
    const bool may_be_missing = !lives[0].created_for_certain || lives[0].removed;
    const auto pick = random() % (lives.size() + (may_be_missing ? 1 : 0));
    if (pick == lives.size()) continue;
    const File& file = lives[pick];
    std::string content = file.durable;
    for (const auto& event : file.pending) {
      if (mood == Mood::everything || (mood == Mood::some && random() % 2 == 0)) apply_whole(content, event);
      if (mood == Mood::torn) apply_torn(content, event, random);
    }
    found[name] = std::move(content);
  }
  return found;
}

}  // namespace provenit::store
