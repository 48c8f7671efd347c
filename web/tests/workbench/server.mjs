// A workbench of its own for a test: `provenit serve` over a bench in a folder that is new.
import { spawn } from 'node:child_process'
import { mkdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'

/** Starts it and waits for its link. `port` 0: a free one. */
export async function serve(provenit, bench, port = 0, more = []) {
  const child = spawn(provenit, ['serve', bench, '--port', String(port), '--json', ...more], { stdio: ['ignore', 'pipe', 'pipe'] })
  let said = ''
  let wrong = ''
  child.stderr.on('data', (d) => (wrong += d))
  const link = await new Promise((resolve, reject) => {
    child.stdout.on('data', (d) => {
      said += d
      try {
        resolve(JSON.parse(said).link)
      } catch {
        // Not whole yet.
      }
    })
    child.on('exit', (code) => reject(new Error(`provenit serve ended with ${code}: ${said}${wrong}`)))
  })
  const ended = new Promise((resolve) => child.on('exit', resolve))
  return {
    link,
    port: Number(new URL(link).port),
    async stop(signal = 'SIGINT') {
      child.kill(signal)
      await ended
    },
  }
}

export function freshBench(folder, name) {
  rmSync(join(folder, name), { recursive: true, force: true })
  mkdirSync(join(folder, name), { recursive: true })
  return join(folder, name, `${name}.bench`)
}
