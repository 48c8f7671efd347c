#include "open.h"

#include <SQLiteCpp/Backup.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <map>
#include <mutex>
#include <string_view>

#include "database.h"
#include "provenit/store/bench.h"
#include "schema.h"

namespace provenit::store::detail {
namespace {

constexpr int busy_timeout_ms = 10'000;
constexpr const char* companions[] = {"-wal", "-shm", "-journal"};

/// Descriptors by device and inode, each with how many hold it.
struct Held {
  int file = -1;
  int holders = 0;
};
std::mutex held_mutex;
std::map<std::pair<unsigned long long, unsigned long long>, Held>& held_files() {
  static std::map<std::pair<unsigned long long, unsigned long long>, Held> files;
  return files;
}

std::pair<unsigned long long, unsigned long long> identity(const struct stat& status) {
  return {status.st_dev, status.st_ino};
}

void require_bench_header(int file) {
  std::array<char, 100> header{};
  constexpr std::string_view magic("SQLite format 3\0", 16);
  const bool whole = ::pread(file, header.data(), header.size(), 0) == static_cast<ssize_t>(header.size());
  if (!whole || std::string_view(header.data(), 16) != magic)
    refuse(ErrorCode::invalid_input, "is no bench: it is not an SQLite database", "Name a bench file.");
  std::uint32_t id = 0;
  for (std::size_t i = 68; i < 72; ++i) id = id << 8 | static_cast<unsigned char>(header[i]);
  if (id != application_id)
    refuse(ErrorCode::invalid_input, "is no bench: it is an SQLite database of some other program",
           "Name a bench file.");
}

/// A descriptor that is held under this identity from now on.
void hold(const std::string& path, std::pair<unsigned long long, unsigned long long>& id) {
  const std::lock_guard lock(held_mutex);
  struct stat status {};
  if (::stat(path.c_str(), &status) != 0)
    refuse(ErrorCode::not_found, "there is no such bench", "Check the name, or create the bench first.");
  if (S_ISDIR(status.st_mode)) refuse(ErrorCode::invalid_input, "is a folder, not a bench", "Name a bench file.");
  auto known = held_files().find(identity(status));
  if (known == held_files().end()) {
    const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0)
      refuse(ErrorCode::io, std::string("cannot be opened: ") + std::strerror(errno), "Check that you may read it.");
    // The name may have gone to another file meanwhile, which may be held already: then this descriptor stays open.
    if (::fstat(file, &status) != 0) refuse(ErrorCode::io, "cannot be looked at", "Check the disk.");
    known = held_files().try_emplace(identity(status), Held{file, 0}).first;
  }
  ++known->second.holders;
  id = known->first;
}

void let_go(const std::pair<unsigned long long, unsigned long long>& id) {
  const std::lock_guard lock(held_mutex);
  const auto known = held_files().find(id);
  if (known == held_files().end() || --known->second.holders > 0) return;
  ::close(known->second.file);
  held_files().erase(known);
}

/// `of`: a table, or 1 for the whole file.
void require_sound(SQLite::Database& db, const std::string& of = "1") {
  SQLite::Statement check(db, "PRAGMA quick_check(" + of + ")");
  const std::string found = check.executeStep() ? check.getColumn(0).getString() : "no answer";
  if (found != "ok")
    refuse(ErrorCode::invalid_input, "the bench is damaged: " + found,
           "It has not been changed. Use a copy of it, or restore it from a backup.");
}

/// A large bench would keep every command waiting while it is read from end to end; what a loan is about is little.
void require_sound_to_open(SQLite::Database& db) {
  const auto bytes = db.execAndGet("PRAGMA page_count").getInt64() * db.execAndGet("PRAGMA page_size").getInt64();
  if (bytes <= Bench::kMostCheckedBytes || stored_version(db) != newest_version()) return require_sound(db);
  for (const char* table :
       {"bench", "displays", "instruments", "rooms", "loans", "surveys", "finding_sets", "methods", "sources"})
    require_sound(db, table);
}

void checkpoint_on_close(SQLite::Database& db, bool on) {
  sqlite3_db_config(db.getHandle(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, on ? 0 : 1, nullptr);
}

void use_wal(SQLite::Database& db) {
  if (db.execAndGet("PRAGMA journal_mode = WAL").getString() != "wal")
    refuse(ErrorCode::io, "the disk does not allow a write-ahead log", "Keep the bench on a local disk.");
}

[[noreturn]] void refuse_system(const std::string& what) {
  refuse(ErrorCode::io, what + ": " + std::strerror(errno),
         "Check that the folder exists, that you may write there and that the disk has room.");
}

/// RFC 3986: what SQLite would take for a part of the address is written as its code.
std::string uri_of(const std::string& path) {
  std::string out = "file:";
  for (const char c : std::filesystem::absolute(path).string()) {
    if (c == '%' || c == '?' || c == '#')
      out += fmt::format("%{:02X}", static_cast<unsigned char>(c));
    else
      out += c;
  }
  return out;
}

/// A file of our own beside `path`, empty; removed with its companions unless keep() is called.
class TemporaryBench {
 public:
  explicit TemporaryBench(const std::string& path) {
    for (int attempt = 0;; ++attempt) {
      name_ = path + ".new-" + std::to_string(::getpid()) + '-' + std::to_string(attempt);
      const int file = ::open(name_.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
      if (file >= 0) {
        ::close(file);
        return;
      }
      if (errno != EEXIST || attempt == 100) {
        name_.clear();
        refuse_system("cannot be created");
      }
    }
  }
  TemporaryBench(const TemporaryBench&) = delete;
  TemporaryBench& operator=(const TemporaryBench&) = delete;
  ~TemporaryBench() {
    if (name_.empty()) return;
    std::remove(name_.c_str());
    for (const char* suffix : companions) std::remove((name_ + suffix).c_str());
  }
  [[nodiscard]] const std::string& name() const { return name_; }

  /// Gives the file its name, unless that is taken, and makes the new name durable.
  void move_to(const std::string& path) {
    if (::renameat2(AT_FDCWD, name_.c_str(), AT_FDCWD, path.c_str(), RENAME_NOREPLACE) != 0) {
      if (errno == EEXIST) refuse(ErrorCode::conflict, "there is a file of this name already", "Give another name.");
      // Some file systems know no RENAME_NOREPLACE; a hard link does not replace either.
      if ((errno != EINVAL && errno != ENOSYS) || ::link(name_.c_str(), path.c_str()) != 0)
        refuse_system("cannot be put in place");
      std::remove(name_.c_str());
    }
    name_.clear();
    const auto folder = std::filesystem::absolute(path).parent_path();
    const int directory = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (directory < 0) return;
    ::fsync(directory);
    ::close(directory);
  }

 private:
  std::string name_;
};

}  // namespace

HeldFile::HeldFile(const std::string& path) {
  hold(path, id_);
  int file = -1;
  {
    const std::lock_guard lock(held_mutex);
    file = held_files().at(id_).file;
  }
  try {
    require_bench_header(file);
  } catch (...) {
    let_go(id_);
    throw;
  }
}

HeldFile::~HeldFile() {
  let_go(id_);
}

void configure(SQLite::Database& db) {
  db.setBusyTimeout(busy_timeout_ms);
  db.exec("PRAGMA foreign_keys = ON");
  db.exec("PRAGMA synchronous = FULL");  // in WAL mode: a sync at each commit
  // A bench may come from somebody else: nothing in its schema may call functions with side effects.
  db.exec("PRAGMA trusted_schema = OFF");
  db.exec("PRAGMA cell_size_check = ON");
}

SQLite::Database open_bench(const std::string& path) {
  SQLite::Database db(path, SQLite::OPEN_READWRITE);
  // Closing the last connection moves the log into the file: not before the file is known to be sound.
  checkpoint_on_close(db, false);
  configure(db);
  require_sound_to_open(db);
  migrate(db);
  use_wal(db);
  checkpoint_on_close(db, true);
  return db;
}

void create_bench(const std::string& path, const std::string& title, const std::string& evaluator, double created) {
  std::error_code ec;
  if (std::filesystem::exists(path, ec))
    refuse(ErrorCode::conflict, "there is a file of this name already", "Give another name.");
  for (const char* suffix : companions)
    if (std::filesystem::exists(path + suffix, ec))
      refuse(ErrorCode::conflict,
             std::string("the file ending in ") + suffix + " belongs to another bench of this name",
             "Move it away first: it may hold readings of a bench that has been moved without it.");
  TemporaryBench temporary(path);
  {
    SQLite::Database db(temporary.name(), SQLite::OPEN_READWRITE);
    configure(db);
    db.exec("PRAGMA application_id = " + std::to_string(application_id));
    use_wal(db);
    migrate(db);
    insert_row(db, "bench", {{"id", 1}, {"title", title}, {"evaluator", evaluator}, {"created", created}});
    db.exec("PRAGMA wal_checkpoint(TRUNCATE)");
  }
  temporary.move_to(path);
}

void copy_bench(const std::string& from, const std::string& to) {
  std::error_code ec;
  // Without a log beside it nobody has the bench open, and reading it may leave nothing beside it either.
  const bool logged = std::filesystem::exists(from + "-wal", ec);
  SQLite::Database source(uri_of(from) + (logged ? "?mode=ro" : "?mode=ro&immutable=1"),
                          SQLite::OPEN_READONLY | SQLite::OPEN_URI);
  source.setBusyTimeout(busy_timeout_ms);
  source.exec("PRAGMA trusted_schema = OFF");
  source.exec("PRAGMA cell_size_check = ON");
  require_sound(source);
  refuse_newer(source);
  TemporaryBench temporary(to);
  {
    SQLite::Database target(temporary.name(), SQLite::OPEN_READWRITE);
    SQLite::Backup backup(target, source);
    constexpr int all_pages = -1;
    if (backup.executeStep(all_pages) != SQLITE_DONE)
      refuse(ErrorCode::io, "cannot be copied: somebody is writing to it", "Try again once that has ended.");
  }
  temporary.move_to(to);
}

}  // namespace provenit::store::detail
