import { mount } from 'svelte';
import './tokens.css';
import './base.css';
import Shell from './Shell.svelte';

const target = document.getElementById('app');
if (target) mount(Shell, { target });
