#!/usr/bin/env bash
# slurm_test.sh PROVENIT: a real slurmctld and slurmd on loopback, with a munged of their own; a title in four parts, one of
# whose workers is killed in the middle; the joined survey is byte for byte that of the whole. 77 says that it was skipped.
set -euo pipefail
provenit=$1
skip() { echo "skipped: $1"; exit 77; }
for program in slurmctld slurmd sbatch munged runuser pgrep ffmpeg; do
  command -v "$program" >/dev/null || skip "$program is not installed (packages slurm-wlm, munge)"
done
[[ $(id -u) -eq 0 ]] || skip "starting slurmd and munged takes root"
getent passwd munge >/dev/null || skip "there is no user munge"

run=$(mktemp -d "${TMPDIR:-/tmp}/provenit_slurm_XXXXXX")
chmod 755 "$run"
export SLURM_CONF=$run/slurm.conf
job=$run/job
log() { printf '%(%H:%M:%S)T %s\n' -1 "$1"; }
end_of() { # waits for the process of a pid file to end
  local pid
  pid=$(cat "$1" 2>/dev/null) || return 0
  kill "$pid" 2>/dev/null || return 0
  for _ in {1..100}; do kill -0 "$pid" 2>/dev/null || return 0; sleep 0.1; done
  kill -9 "$pid" 2>/dev/null || true
}
clean_up() {
  local code=$?
  set +e
  if [[ $code -ne 0 ]]; then
    for file in "$run"/slurmctld.log "$run"/slurmd.log "$run"/munge/log "$job"/logs/* "$job"/errors/*; do
      [[ -s $file ]] && { echo "--- $file"; tail -n 30 "$file"; }
    done
  fi
  if [[ -e $run/slurmctld.pid ]]; then
    timeout 10 scancel --user=root 2>/dev/null
    for _ in {1..50}; do [[ -z $(timeout 5 squeue --noheader 2>/dev/null) ]] && break; sleep 0.2; done
  fi
  end_of "$run/slurmd.pid"
  end_of "$run/slurmctld.pid"
  end_of "$run/munge/pid"
  rm -rf "$run"
  exit "$code"
}
trap clean_up EXIT
trap 'exit 1' INT TERM
free_port() {
  local port
  while port=$((20000 + RANDOM % 10000)); (exec 3<>"/dev/tcp/127.0.0.1/$port") 2>/dev/null; do :; done
  echo "$port"
}
until_true() { # SECONDS WHAT COMMAND...
  local seconds=$1 what=$2 end
  shift 2
  end=$((SECONDS + seconds))
  until "$@"; do
    [[ $SECONDS -lt $end ]] || { echo "not within $seconds s: $what"; exit 1; }
    sleep 0.02
  done
}

mkdir -p "$run"/{state,spool,munge}
head -c 1024 /dev/urandom >"$run/munge/key"
chmod 400 "$run/munge/key"
chown -R munge "$run/munge"
host=$(hostname -s)
cat >"$SLURM_CONF" <<CONF
ClusterName=bench
SlurmctldHost=$host(127.0.0.1)
SlurmUser=root
SlurmctldPort=$(free_port)
SlurmdPort=$(free_port)
AuthType=auth/munge
AuthInfo=socket=$run/munge/socket,cred_expire=10
CredType=cred/munge
StateSaveLocation=$run/state
SlurmdSpoolDir=$run/spool
SlurmctldPidFile=$run/slurmctld.pid
SlurmdPidFile=$run/slurmd.pid
SlurmctldLogFile=$run/slurmctld.log
SlurmdLogFile=$run/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
ReturnToService=2
MpiDefault=none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
SlurmdParameters=config_overrides
AccountingStorageType=accounting_storage/none
JobAcctGatherType=jobacct_gather/none
SchedulerParameters=sched_min_interval=1000,batch_sched_delay=0,sched_interval=1
NodeName=$host NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=main Nodes=$host Default=YES MaxTime=INFINITE State=UP
CONF
runuser -u munge -- munged --key-file="$run/munge/key" --socket="$run/munge/socket" --pid-file="$run/munge/pid" \
  --log-file="$run/munge/log" --seed-file="$run/munge/seed"
munge --socket="$run/munge/socket" -n | unmunge --socket="$run/munge/socket" >/dev/null
slurmctld
slurmd
is_idle() { [[ $(sinfo --noheader --format=%t 2>/dev/null) == idle ]]; }
until_true 30 "the node is idle" is_idle
log "one node, idle"

# Each part has several chunks of 256 frames, so that some are kept when its worker is killed.
title="$run/shore's view.mp4"
ffmpeg -nostdin -v error -y -f lavfi -i testsrc2=s=640x360:r=24:d=83.3 -pix_fmt yuv420p10le -c:v libx265 -preset ultrafast \
  -x265-params log-level=error:keyint=24:pools=2 -color_primaries bt2020 -color_trc smpte2084 -colorspace bt2020nc \
  -color_range tv "$title"
"$provenit" farm plan "$job" "$title" --parts 4 --siting left
"$provenit" farm submit "$job" --name shore --minutes 30
log "submitted"

unfinished=$job/surveys/0001-0002.survey.unfinished
has_a_chunk() { [[ $(stat -c %s "$unfinished" 2>/dev/null || echo 0) -gt 10000 ]]; }
until_true 120 "part 2 has kept some frames" has_a_chunk
worker=$(pgrep -f "farm part $job 1 2 ")
kill -9 "$worker"
[[ -e $unfinished && ! -e ${unfinished%.unfinished} ]] || { echo "the worker of part 2 had ended before it was killed"; exit 1; }
kept=$(stat -c %s "$unfinished")
log "worker $worker of part 2 killed, $kept bytes of its survey are kept"
"$provenit" farm status "$job" --json >"$run/middle.json" || true

is_joined() { [[ -e $job/surveys/0001.survey ]]; }
until_true 300 "the title is joined" is_joined
log "joined"
"$provenit" farm status "$job" --json >"$run/end.json"
"$provenit" survey "$title" --siting left --out "$run/whole.survey" >/dev/null 2>&1
log "surveyed whole"
grep -q '"finished": false' "$run/middle.json"
grep -q '"finished": true' "$run/end.json"
grep -q '"attempt": 2' "$run/end.json" || { echo "part 2 was not tried again by the engine"; cat "$run/end.json"; exit 1; }
# A survey ends in "END ", the 64 digits of its hash, and a line feed.
hash_of() { tail -c 65 "$1" | head -c 64; }
hash=$(hash_of "$run/whole.survey")
[[ $(hash_of "$job/surveys/0001.survey") == "$hash" ]] || { echo "another hash than that of the whole"; exit 1; }
grep -q "\"hash\": \"$hash\"" "$run/end.json"
cmp "$job/surveys/0001.survey" "$run/whole.survey"
ls "$job"/logs/0001-0002-*.txt >/dev/null
log "4 parts, one killed and tried again: the bytes of the whole, $hash"
