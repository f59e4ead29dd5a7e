import { mount } from 'svelte';
import './tokens.css';
import './base.css';
import Shell from './Shell.svelte';
import { startWorker } from './state/worker.ts';

const target = document.getElementById('app');
if (target) mount(Shell, { target });
void startWorker();
