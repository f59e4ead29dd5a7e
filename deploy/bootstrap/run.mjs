import { spawn, spawnSync } from 'node:child_process';

/** The exit code of a program that cannot be started, as a shell gives it. */
export const NOT_FOUND = 127;

/** Runs a program with its output shown; resolves with its exit code (NOT_FOUND when it cannot be started). */
export function run(program, args, options = {}) {
  return new Promise((resolve) => {
    const child = spawn(program, args, { stdio: 'inherit', ...options });
    child.on('error', () => resolve(NOT_FOUND));
    child.on('close', (code) => resolve(code ?? 1));
  });
}

/** Runs a program quietly; resolves with its exit code and all it said. */
export function runQuietly(program, args) {
  return new Promise((resolve) => {
    const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'pipe'] });
    let said = '';
    child.stdout.on('data', (chunk) => (said += chunk));
    child.stderr.on('data', (chunk) => (said += chunk));
    child.on('error', (error) => resolve({ code: NOT_FOUND, said: error.message }));
    child.on('close', (code) => resolve({ code: code ?? 1, said }));
  });
}

/** True when the shell finds a program of that name. */
export const hasProgram = (name) => spawnSync('sh', ['-c', `command -v ${name}`], { stdio: 'ignore' }).status === 0;
