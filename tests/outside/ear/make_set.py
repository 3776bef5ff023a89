#!/usr/bin/env python3
"""Invented test sounds, the house's own generator (no data from elsewhere; the SoundFonts are Debian's
timgm6mb-soundfont and fluid-soundfont-gm, rendered by fluidsynth).

Deterministic labelled guitar set, rendered with fluidsynth from General MIDI SoundFonts.
  python3 make_set.py [--out DIR] [--seed N] [--fonts a.sf2,b.sf2] [--lines N] [--vels 50,85,115] [--ring]
Writes DIR/wav/*.wav (mono, 48 kHz, PCM16) and DIR/labels.json.
Set 'single'  : one file per (font, program 24..27, velocity); notes MIDI 40..88 in shuffled order, slot 1.2 s, held 0.8 s.
Set 'line'    : melodic lines, 4-8 notes, eighths at 60-200 bpm, held 92 % of the eighth, ~1 in 6 notes repeats the previous pitch.
Each file has a '_bleed' twin with a comping/bass/drums backing mixed at -20 dB (RMS, relative to the guitar's sounding RMS);
'_band' is that backing alone as the box played it (earlier by 12 ms, another level).
Labels: onset = the note's time in the SMF; onset_ac = first sample whose 1 ms envelope is within 30 dB of the note's peak
(measured on the clean render); off; midi; hz (A440)."""
import argparse, hashlib, json, os, random, struct, subprocess, tempfile
from multiprocessing.pool import ThreadPool
import numpy as np, soundfile as sf
SR=48000; PPQ=480
def vlq(n):
    b=[n&0x7f]; n>>=7
    while n: b.append((n&0x7f)|0x80); n>>=7
    return bytes(reversed(b))
def smf(events, path):            # events: (seconds, order, bytes); 120 bpm -> 960 ticks/s
    events=sorted(events,key=lambda e:(e[0],e[1])); trk=b'\x00\xff\x51\x03\x07\xa1\x20'; last=0
    for t,_,b in events:
        k=round(t*960); trk+=vlq(k-last)+b; last=k
    trk+=vlq(0)+b'\xff\x2f\x00'
    open(path,'wb').write(b'MThd'+struct.pack('>IHHH',6,0,1,PPQ)+b'MTrk'+struct.pack('>I',len(trk))+trk)
def render(font, events, dur, fx='no'):
    with tempfile.TemporaryDirectory() as d:
        m,w=d+'/a.mid',d+'/a.wav'; smf(events,m)
        subprocess.run(['fluidsynth','-ni','-q','-r',str(SR),'-z','64','-R',fx,'-C',fx,'-g','0.5','-o','synth.dynamic-sample-loading=1','-O','float','-T','wav','-F',w,font,m],check=True,stdout=subprocess.DEVNULL,stderr=subprocess.DEVNULL)
        x,_=sf.read(w,dtype='float32')
    x=x.mean(axis=1); n=int(dur*SR)
    return np.pad(x,(0,max(0,n-len(x))))[:n]
def note(ev,ch,n,v,t,d):
    ev.append((t,1,bytes([0x90|ch,n,v]))); ev.append((t+d,0,bytes([0x80|ch,n,64])))
def guitar(font, prog, notes, dur, ring=False):
    # ring: one render, tails overlap as the SoundFont's release leaves them. default: stems of every 4th note, each faded out
    # over the 12 ms before the next note starts (a damped, truly monophonic guitar; some presets release for > 1 s).
    if ring:
        ev=[(0,-1,bytes([0xC0,prog]))]
        for t,d,n,v in notes: note(ev,0,n,v,t,d)
        return render(font,ev,dur)
    k=min(len(notes), 4 if notes[1][0]-notes[0][0]>1 else 8)
    def stem(j):
        ev=[(0,-1,bytes([0xC0,prog]))]; g=np.zeros(int(dur*SR),'f4'); F=int(.012*SR)
        for i in range(j,len(notes),k):
            t,d,n,v=notes[i]; note(ev,0,n,v,t,d); a=max(0,int(t*SR)-64); b=int(notes[i+1][0]*SR) if i+1<len(notes) else len(g)
            g[a:b]=1
            if i+1<len(notes): g[b-F:b]=np.linspace(1,0,F,dtype='f4')
        return render(font,ev,dur)*g
    with ThreadPool(2) as p: return sum(p.map(stem,range(k)))
def backing(font, dur, seed):
    r=random.Random(seed); ev=[(0,-1,bytes([0xC0,0])),(0,-1,bytes([0xC1,32]))]; spb=60/140; t=0.0; bar=0
    q=[([53,57,60,64],38),([53,57,59,64],43),([52,55,59,62],36),([55,58,61,64],45)]
    while t<dur:
        vo,ro=q[bar%4]
        for h in ([0,1.667] if bar%2==0 else [0.667,2,3.667]):
            for n in vo: note(ev,0,n,75,t+h*spb,0.4*spb)
        for b in range(4):
            note(ev,1,[ro,ro+4,ro+7,ro+r.choice([-1,1,9])][b],92,t+b*spb,0.95*spb); note(ev,9,51,82,t+b*spb,.1)
            if b%2: note(ev,9,44,78,t+b*spb,.1); note(ev,9,51,64,t+(b+.667)*spb,.1)
        t+=4*spb; bar+=1
    return render(font,ev,dur,'yes')
def onset_ac(x,i0,i1):
    seg=np.abs(x[i0:i1]); k=48; m=len(seg)//k
    if m==0: return i0/SR
    # 1 ms envelope of the change against what was sounding before (previous note's release)
    e=seg[:m*k].reshape(m,k).max(1); pk=e.max(); base=np.abs(x[max(0,i0-480):i0]).max() if i0>0 else 0.0
    th=max(pk*10**(-30/20), min(base*1.1,pk*0.5)); j=int(np.argmax(e>=th)); return (i0+j*k)/SR
def label(x,notes):
    out=[]
    for i,(t,d,n,v) in enumerate(notes):
        i0=int(t*SR); i1=int((t+min(d,0.2))*SR)
        out.append(dict(onset=round(t,5),onset_ac=round(onset_ac(x,i0,i1),5),off=round(t+d,5),midi=n,vel=v,hz=round(440*2**((n-69)/12),3)))
    return out
def sounding_rms(x,notes):
    s=np.concatenate([x[int(t*SR):int((t+min(d,.5))*SR)] for t,d,_,_ in notes]); return float(np.sqrt((s.astype(np.float64)**2).mean()))
def main():
    a=argparse.ArgumentParser(); a.add_argument('--out',default='.'); a.add_argument('--seed',type=int,default=20261125)
    a.add_argument('--fonts',default='/usr/share/sounds/sf2/TimGM6mb.sf2,/usr/share/sounds/sf2/FluidR3_GM.sf2'); a.add_argument('--lines',type=int,default=6)
    a.add_argument('--vels',default='50,85,115'); a.add_argument('--ring',action='store_true'); a.add_argument('--bleed_db',type=float,default=-20.0); p=a.parse_args()
    fonts=[f for f in p.fonts.split(',') if os.path.exists(f)]; vels=[int(v) for v in p.vels.split(',')]
    os.makedirs(p.out+'/wav',exist_ok=True); items=[]; sha=lambda x: hashlib.sha256(x.tobytes()).hexdigest()[:16]
    def emit(name,kind,font,prog,x,notes,extra,bseed):
        x=x*(0.5/max(1e-9,np.abs(x).max())); lab=label(x,notes); dur=len(x)/SR
        b=backing(fonts[0],dur,bseed); b=b*(sounding_rms(x,notes)*10**(p.bleed_db/20)/float(np.sqrt((b.astype(np.float64)**2).mean())))
        # the band alone as it left the box: 12 ms before it reaches the pick-up, at another level, unfiltered
        band=np.concatenate([b[int(.012*SR):],np.zeros(int(.012*SR),'f4')])*3.0; band*=min(1.0,0.9/max(1e-9,np.abs(band).max())); sf.write(p.out+f'/wav/{name}_band.wav',band,SR,subtype='PCM_16')
        for suf,y in (('',x),('_bleed',x+b)):
            y16=np.clip(np.round(y*32767),-32768,32767).astype('<i2'); f=f'wav/{name}{suf}.wav'; sf.write(p.out+'/'+f,y16,SR,subtype='PCM_16')
            items.append(dict(file=f,set=kind,bleed=bool(suf),font=os.path.basename(font),program=prog,dur=round(dur,4),sha=sha(y16),notes=lab,**(dict(band=f'wav/{name}_band.wav') if suf else {}),**extra))
    for fi,font in enumerate(fonts):
        for prog in (24,25,26,27):
            for v in vels:
                r=random.Random(f'{p.seed}/s/{fi}/{prog}/{v}'); order=list(range(40,89)); r.shuffle(order)
                notes=[(0.1+1.2*i,0.8,n,v) for i,n in enumerate(order)]
                emit(f's_f{fi}_p{prog}_v{v}','single',font,prog,guitar(font,prog,notes,0.1+1.2*len(order),p.ring),notes,dict(vel=v),f'{p.seed}/bs/{fi}/{prog}/{v}')
            for li in range(p.lines):
                r=random.Random(f'{p.seed}/l/{fi}/{prog}/{li}'); bpm=r.choice([60,80,100,120,140,160,180,200]); e=30/bpm; k=r.randint(4,8)
                scale=[0,2,4,5,7,9,11] if li%2 else [0,2,3,5,7,9,10]; key=r.randint(0,11); pool=[n for n in range(43,85) if (n-key)%12 in scale]
                i=r.randrange(5,len(pool)-5); notes=[]
                for j in range(k):
                    if j and r.random()>1/6: i=min(len(pool)-1,max(0,i+r.choice([-4,-3,-2,-2,-1,-1,1,1,2,2,3,4])))
                    notes.append((0.25+j*e,0.92*e,pool[i],r.randint(70,110)))
                emit(f'l_f{fi}_p{prog}_{li}','line',font,prog,guitar(font,prog,notes,0.25+k*e+0.4,p.ring),notes,dict(bpm=bpm),f'{p.seed}/bl/{fi}/{prog}/{li}')
    json.dump(dict(sr=SR,seed=p.seed,fonts=[os.path.basename(f) for f in fonts],bleed_db=p.bleed_db,ring=p.ring,items=items),open(p.out+'/labels.json','w'),indent=0)
    print(len(items),'files',sum(i['dur'] for i in items)/60,'min',sum(len(i['notes']) for i in items),'notes')
if __name__=='__main__': main()
